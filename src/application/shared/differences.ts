/** Where two documents differ, as JSON pointers: what a 409 lists. Values stay out, they may be personal. */
const MAX_DIFFERENCES = 50

export function differingPointers(a: unknown, b: unknown): string[] {
  const found: string[] = []
  walk(a, b, '#', found)
  return found
}

function walk(a: unknown, b: unknown, pointer: string, found: string[]): void {
  if (found.length >= MAX_DIFFERENCES || Object.is(a, b)) return
  if (isContainer(a) && isContainer(b) && Array.isArray(a) === Array.isArray(b)) {
    for (const key of new Set([...Object.keys(a), ...Object.keys(b)])) {
      const step = key.replaceAll('~', '~0').replaceAll('/', '~1')
      walk((a as Record<string, unknown>)[key], (b as Record<string, unknown>)[key], `${pointer}/${step}`, found)
    }
    return
  }
  found.push(pointer)
}

const isContainer = (value: unknown): value is object => typeof value === 'object' && value !== null
