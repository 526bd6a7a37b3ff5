// Loaded before anything else, and plain JavaScript: an older Node cannot read TypeScript, so it has to be told here.
const wanted = 24
if (Number(process.versions.node.split('.')[0]) < wanted) {
  process.stderr.write(
    `Limb Ledger needs Node ${wanted} or newer and this is ${process.version}: ` +
      `start it with "npm run ..." after "npm ci", which brings its own Node on Linux, or install Node ${wanted}.\n`,
  )
  process.exit(1)
}
