export default function setup() {
  return () => {}
}
