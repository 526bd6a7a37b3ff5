/** npm run demo: the service on a database of its own for as long as this runs, and one rehabilitation told to it. */
import '../server/require-node.js'
import { setImmediate as aTurn } from 'node:timers/promises'
import { parseArgs } from 'node:util'
import { readConfig } from '../config.ts'
import type { EmbeddedMachine } from '../embedded/machine.ts'
import { makeService, type Service } from '../service.ts'
import { foundClinics, type Person } from './found-clinics.ts'
import { asJson, play, SEED, type Story } from './play.ts'
import { say, sayProgress } from './progress.ts'
import { report } from './report.ts'
import { buildScenario } from './scenario.ts'
import { stillRunning, title } from './frame.ts'

const HELP = `Usage: npm run demo [-- OPTIONS]

Starts the service on an embedded PostgreSQL and tells it one invented rehabilitation over HTTP.
  --exit   end after printing
  --json   print one JSON object (npm run -s demo -- --json, or npm adds its own lines)
  PORT in the environment chooses the port; a free one if absent`

/** Answers in flight get this long at Ctrl-C; the database ends afterwards in any case. */
const CLOSING_LIMIT_MS = 3_000

const { exit, json } = options()
let machine: Promise<EmbeddedMachine> | null = null
let service: Service | null = null
let stopping = false

process.on('SIGINT', () => void stop(130))
process.on('SIGTERM', () => void stop(143))
stopWithNpm()

try {
  await run()
  if (exit) await stop(0)
} catch (error) {
  if (!stopping) {
    say(`The demo ended early: ${inWords(error)}`)
    await stop(1)
  }
}

async function run(): Promise<void> {
  say('Simulating the recordings of six visits')
  const scenario = buildScenario(SEED, new Date())
  await aTurn() // for a Ctrl-C that came while it was busy
  const config = readConfig({
    NODE_ENV: 'development',
    PORT: process.env['PORT'] ?? '0',
    LOG_LEVEL: process.env['LOG_LEVEL'] ?? 'fatal',
  })
  say('Starting an embedded PostgreSQL and the service')
  const { startTemporaryMachine } = await import('../embedded/machine.ts')
  machine = startTemporaryMachine(config)
  const { directory } = await machine
  service = await makeService({ ...config, DATA_DIR: directory }, { machine: await machine, logStream: process.stderr })
  const url = `http://${config.HOST}:${await service.listen()}`
  const people = await foundClinics(await machine, scenario)
  print(url, people, await play(url, scenario, people, sayProgress))
}

function print(url: string, people: readonly Person[], story: Story): void {
  const text = json
    ? JSON.stringify(asJson(url, people, story), null, 2)
    : [title(), report(story), ...(exit ? [] : [stillRunning(url, people, story)])].join('\n\n')
  process.stdout.write(`${text}\n`)
}

/** Twice: at once. What is left then ends by itself, since a guard watches over the database. */
async function stop(code: number): Promise<void> {
  if (stopping) process.exit(code)
  stopping = true
  if (!exit) say('Stopping')
  const limit = new Promise((settle) => setTimeout(settle, CLOSING_LIMIT_MS))
  await Promise.race([service?.close(), limit])
  // Once more, for a service that was never made or took too long: the second stop of a machine does nothing.
  await machine?.then(
    (started) => started.stop(),
    () => {},
  )
  process.exit(code)
}

/** A signal to npm alone ends npm and its shell, and would leave us behind. */
function stopWithNpm(): void {
  const shell = process.ppid
  if (process.env['npm_lifecycle_event'] === undefined) return
  setInterval(() => process.ppid !== shell && void stop(143), 500).unref()
}

function inWords(error: unknown): string {
  if (!(error instanceof Error)) return String(error)
  return error.cause === undefined ? error.message : `${error.message}: ${inWords(error.cause)}`
}

function options(): { exit: boolean; json: boolean } {
  const flag = { type: 'boolean', default: false } as const
  try {
    const { values } = parseArgs({ options: { exit: flag, json: flag, help: { ...flag, short: 'h' } } })
    if (!values.help) return values
    console.log(HELP)
    process.exit(0)
  } catch (error) {
    console.error(`${(error as Error).message}\n\n${HELP}`)
    process.exit(2)
  }
}
