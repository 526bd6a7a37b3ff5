#!/usr/bin/env node
import '../server/require-node.js'

const { run } = await import('./limb-ledger.ts')
process.exitCode = await run(process.argv.slice(2))
