/**
 * npm run mutants:isolation [-- WORDS]: plants each fault of mutants.ts (or those whose name has the words) in a copy of this
 * tree, runs the test that has to notice it, and prints who was caught. Ends with 1 when one was missed. Not part of CI: it
 * takes minutes. First every one of those tests is run without a fault: a test that fails anyway catches nothing.
 */
import { spawn } from 'node:child_process'
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { MUTANTS, type Mutant } from './mutants.ts'
import { plant } from './plant.ts'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const COPIED = ['src', 'tests', 'prisma', '.config', 'openapi', 'package.json', 'tsconfig.json', 'README.md', 'DEVELOPERS.md'] // prettier-ignore
const LONGEST_RUN_MS = 10 * 60_000

type Outcome = 'caught' | 'missed' | 'broken'

interface Ran {
  readonly passed: number
  /** Tests that failed, by their own doing: a file that does not even load fails none. */
  readonly failed: readonly string[]
  readonly said: string
}

const [, , ...words] = process.argv
const chosen = MUTANTS.filter(({ name }) => name.includes(words.join(' ')))
const tree = mkdtempSync(join(tmpdir(), 'limb-ledger-mutants-'))
process.once('SIGINT', () => {
  rmSync(tree, { recursive: true, force: true })
  process.exit(130)
})
try {
  for (const name of COPIED) cpSync(join(ROOT, name), join(tree, name), { recursive: true })
  symlinkSync(join(ROOT, 'node_modules'), join(tree, 'node_modules'))
  process.exitCode = await main()
} finally {
  rmSync(tree, { recursive: true, force: true })
}

async function main(): Promise<number> {
  const start = performance.now()
  const tests = new Map(chosen.map(({ caughtBy }) => [`${caughtBy.file} ${caughtBy.test}`, caughtBy]))
  for (const test of tests.values()) {
    const { passed, failed, said } = await run(test)
    if (passed > 0 && failed.length === 0) continue
    console.error(`Without a fault "${test.test}" of ${test.file} does not hold, so it can catch none.\n${said}`)
    return 1
  }
  console.log(`${tests.size} tests hold without a fault. Now ${chosen.length} faults:\n`)

  const outcomes: Outcome[] = []
  for (const mutant of chosen) {
    const began = performance.now()
    const { outcome, by } = await tried(mutant)
    outcomes.push(outcome)
    console.log(`${outcome.padEnd(7)} ${seconds(began).padStart(6)}  ${mutant.name}${by === '' ? '' : `\n                  by: ${by}`}`) // prettier-ignore
  }
  const count = (wanted: Outcome) => outcomes.filter((outcome) => outcome === wanted).length
  console.log(`\n${count('caught')} of ${chosen.length} caught, ${count('missed')} missed, ${count('broken')} broken, in ${seconds(start)}`) // prettier-ignore
  return count('caught') === chosen.length ? 0 : 1
}

/** Broken: the copy did not even run with it, which says nothing about the tests. */
async function tried(mutant: Mutant): Promise<{ outcome: Outcome; by: string }> {
  const undo = plant(tree, mutant)
  try {
    const { passed, failed, said } = await run(mutant.caughtBy)
    if (failed.length > 0) return { outcome: 'caught', by: failed[0] ?? '' }
    return passed > 0 ? { outcome: 'missed', by: '' } : { outcome: 'broken', by: said.slice(-1_500) }
  } finally {
    undo()
  }
}

interface Report {
  readonly testResults: readonly {
    readonly assertionResults: readonly { readonly fullName: string; readonly status: string }[]
  }[]
}

async function run({ file, test }: Mutant['caughtBy']): Promise<Ran> {
  const report = join(tree, 'report.json')
  rmSync(report, { force: true })
  const argv = ['node_modules/vitest/vitest.mjs', 'run', '--config', '.config/vitest.config.ts', file, '-t', test]
  const child = spawn(process.execPath, [...argv, '--reporter=json', `--outputFile=${report}`], {
    cwd: tree,
    // A server of its own for each run: roles belong to a server, and some faults are roles.
    env: { ...process.env, TEST_DATABASE_URL: '', LIMB_LEDGER_POOL_REQUESTS: '300' },
    stdio: ['ignore', 'pipe', 'pipe'],
    timeout: LONGEST_RUN_MS,
  })
  let said = ''
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (piece: Buffer) => (said += piece.toString()))
  await new Promise((settle) => child.once('close', settle))
  try {
    const { testResults } = JSON.parse(readFileSync(report, 'utf8')) as Report
    const results = testResults.flatMap(({ assertionResults }) => assertionResults)
    const of = (status: string) => results.filter((one) => one.status === status).map(({ fullName }) => fullName)
    return { passed: of('passed').length, failed: of('failed'), said }
  } catch {
    return { passed: 0, failed: [], said }
  }
}

function seconds(since: number): string {
  return `${((performance.now() - since) / 1000).toFixed(0)} s`
}
