import { readFile } from 'node:fs/promises'
import { createPreparationPool } from '../application/prepare-session/pool.ts'
import { chooseParameters } from '../application/reanalysis/choose-parameters.ts'
import type { Config } from '../config.ts'
import { analysisChoicesDocument } from '../domain/analysis-choices-document.ts'
import { toFaults } from '../domain/faults.ts'
import { parseStrictJson } from '../domain/strict-json.ts'
import { reanalyse } from '../jobs/reanalyse.ts'
import { openDatabase } from '../tenancy/database.ts'
import { runCommand, UsageError, type Options } from './admin.ts'

const HELP = `Usage: limb-ledger reanalyse --clinic ID [--dry-run yes] [--subject ID] [--parameters FILE] [--limit N]

Analyses a clinic's stored recordings again where the analysis is of another release, or made with other choices,
than those asked for. Old analyses stay readable; stopped anywhere, it goes on where it stopped.
  --clinic ID         the clinic
  --dry-run yes       changes nothing: prints old -> new for every value that would move
  --subject ID        one subject's sets only
  --parameters FILE   choices other than the usual, as JSON: {"filter": {"kind": "none"}, "workWindow": "full_range"}
  --limit N           stop after N sets

Works on DATABASE_URL, or on the embedded database where there is none. Exit code 1 where a set could not be done.`

/** Longer than a push may take: the longest recording is ten minutes. */
const TIME_LIMIT_MS = 60_000

export const run = (argv: readonly string[]): Promise<number> => {
  let failed = 0
  const command = { name: 'reanalyse', help: HELP, options: ['clinic', 'dry-run', 'subject', 'parameters', 'limit'] }
  return runCommand(argv, command, async (options, configured) => {
    const config = configured()
    const asked = await askedOf(options)
    const report = await onDatabase(config, (url) => work(url, config, asked))
    failed = report.failed
    return JSON.stringify({ dryRun: asked.dryRun, ...report })
  }).then((code) => (code === 0 && failed > 0 ? 1 : code))
}

async function askedOf(options: Options) {
  const limit = options.maybe('limit')
  if (limit !== undefined && !/^[1-9]\d{0,8}$/.test(limit)) throw new UsageError('--limit wants a number of 1 or more.')
  const dryRun = options.maybe('dry-run')
  if (dryRun !== undefined && dryRun !== 'yes') throw new UsageError('--dry-run wants the word yes.')
  return {
    clinicId: options.needUuid('clinic'),
    subjectId: options.maybe('subject') === undefined ? null : options.needUuid('subject'),
    dryRun: dryRun === 'yes',
    limit: limit === undefined ? null : Number(limit),
    parameters: chooseParameters(await choicesOf(options.maybe('parameters'))),
  }
}

async function choicesOf(file: string | undefined) {
  if (file === undefined) return {}
  const json = parseStrictJson(await readFile(file))
  const parsed = json.ok ? analysisChoicesDocument.safeParse(json.value) : null
  if (parsed?.success === true) return parsed.data
  const faults = json.ok ? (parsed?.error === undefined ? [] : toFaults(parsed.error, json.value)) : json.faults
  throw new UsageError(`${file}: ${faults.map(({ pointer, message }) => `${pointer} ${message}`).join('; ')}`)
}

async function onDatabase<T>(config: Config, act: (url: string) => Promise<T>): Promise<T> {
  if (config.DATABASE_URL !== undefined) return act(config.DATABASE_URL)
  if (config.NODE_ENV === 'production') throw new UsageError('DATABASE_URL is not set.')
  const { startEmbeddedMachine } = await import('../embedded/machine.ts')
  const machine = await startEmbeddedMachine(config)
  try {
    return await act(machine.urls.app)
  } finally {
    await machine.stop()
  }
}

async function work(url: string, config: Config, asked: Awaited<ReturnType<typeof askedOf>>) {
  const threads = config.WORKERS
  const db = openDatabase(url, { poolSize: threads + 1 })
  const pool = createPreparationPool({ threads, maxQueue: threads, timeLimitMs: TIME_LIMIT_MS })
  try {
    const { clinicId, parameters, dryRun, subjectId, limit } = asked
    const job = { db, pool, clinicId, parameters, dryRun, clock: () => new Date() }
    return await reanalyse(job, { subjectId, limit, atOnce: threads, say: (line) => console.log(line) })
  } finally {
    await pool.close()
    await db.close()
  }
}
