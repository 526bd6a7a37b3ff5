/** The service as it runs, put together from its configuration: by main.ts for good, by the demo for a while. */
import { readFile } from 'node:fs/promises'
import type { AddressInfo } from 'node:net'
import type { FastifyBaseLogger, FastifyInstance } from 'fastify'
import { z } from 'zod'
import { buildApp } from './app.ts'
import { createPreparationPool } from './application/prepare-session/pool.ts'
import { ConfigError, type Config } from './config.ts'
import type { EmbeddedMachine } from './embedded/machine.ts'
import { openLedger, openSubjectKeys, refuseToStartOnAlarm } from './jobs/open-ledger.ts'
import { openReportKeysOf } from './jobs/open-report-keys.ts'
import { sealPeriodically } from './jobs/seal-periodically.ts'
import { makeTokenVerifier } from './server/verify-token.ts'
import { checkServer } from './store/check-server.ts'
import { openAnnouncements } from './tenancy/announcements.ts'
import { forTeamsOnly, openDatabase } from './tenancy/database.ts'

/** A push is refused at once when this many wait for each thread; a document that takes longer than this is given up. */
const WAITING_PER_THREAD = 8
const PREPARATION_LIMIT_MS = 20_000

export interface ServiceOptions {
  /** Database and issuer of a machine that has none; started already, and ended with the service. */
  readonly machine: EmbeddedMachine | null
  readonly logStream?: NodeJS.WritableStream
}

export interface Service {
  readonly app: FastifyInstance
  /** Takes requests from here on; resolves to the port. */
  readonly listen: () => Promise<number>
  readonly close: () => Promise<void>
}

/** A machine without a database gets its own; production named one, readConfig saw to that. */
export async function machineFor(config: Config, say: (sentence: string) => void): Promise<EmbeddedMachine | null> {
  if (config.DATABASE_URL !== undefined) return null
  return (await import('./embedded/machine.ts')).startEmbeddedMachine(config, say)
}

export async function makeService(config: Config, { machine, logStream }: ServiceOptions): Promise<Service> {
  const databaseUrl = config.DATABASE_URL ?? machine?.urls.app ?? ''
  const issuers = config.ISSUERS.length > 0 ? config.ISSUERS : [await embeddedIssuer(config, machine)]

  // Before anything is opened that would have to be closed again.
  const persisted = await persistedOperations(config)
  const faults = await checkServer(databaseUrl)
  if (faults.length > 0) {
    await machine?.stop()
    throw new ConfigError(faults.join(' '))
  }

  const ledger = await ledgerFor(config, machine)

  const pool = createPreparationPool({
    threads: config.WORKERS,
    maxQueue: config.WORKERS * WAITING_PER_THREAD,
    timeLimitMs: PREPARATION_LIMIT_MS,
  })
  // A connection may break before there is a log to say it in; whoever needs it next meets that.
  let log: FastifyBaseLogger | null = null
  const warn = (words: string) => (err: Error) => log?.warn({ err }, words)
  const onPoolError = warn('a connection to the database broke')
  const db = openDatabase(databaseUrl, { poolSize: config.POOL_SIZE, onPoolError })
  // A database of its own that names no role for teams serves none.
  const teamUrl = config.TEAM_DATABASE_URL ?? machine?.urls.team
  const teamDb =
    teamUrl === undefined ? null : forTeamsOnly(openDatabase(teamUrl, { poolSize: config.TEAM_POOL_SIZE, onPoolError }))
  const announcements = openAnnouncements(config.LISTEN_DATABASE_URL ?? databaseUrl, {
    onError: warn('announcements are not heard'),
  })
  const app = await buildApp({
    db,
    pool,
    verify: makeTokenVerifier(issuers, config.AUDIENCE),
    clock: () => new Date(),
    teamDb,
    reportKeys: await openReportKeysOf(config),
    ledger,
    subjectKeys: await openSubjectKeys(config),
    announcements,
    graphql: {
      introspection: config.NODE_ENV !== 'production',
      persisted,
      explorer: config.NODE_ENV === 'production' ? null : async () => (await import('./embedded/explorer.ts')).explorerPage(), // prettier-ignore
    },
    http: { logLevel: config.LOG_LEVEL, ...(logStream === undefined ? {} : { logStream }) },
  })
  log = app.log

  const sealer =
    ledger === null || config.ROLE === 'service' ? null : sealPeriodically(ledger, config.SEAL_INTERVAL_MS, app.log)

  return {
    app,
    listen: async () => {
      await pool.warmUp()
      await app.listen({ host: config.HOST, port: config.PORT })
      return (app.server.address() as AddressInfo).port
    },
    // Answers first, then what they were made with.
    close: async () => {
      await app.close()
      await announcements.close()
      await sealer?.stop()
      await ledger?.close()
      await pool.close()
      await db.close()
      await teamDb?.close()
      await machine?.stop()
    },
  }
}

/** Null on a machine with a database of its own that names no sealer: its log grows and nothing seals it. */
async function ledgerFor(config: Config, machine: EmbeddedMachine | null) {
  const url = config.SEALER_DATABASE_URL ?? machine?.urls.sealer
  if (url === undefined) return null
  const ledger = await openLedger(config, url, () => undefined)
  try {
    await refuseToStartOnAlarm(ledger)
    return ledger
  } catch (error) {
    await ledger.close()
    await machine?.stop()
    throw error
  }
}

/** A JSON object of operations by key, as build tools of clients write it. */
async function persistedOperations({ GRAPHQL_PERSISTED_FILE: path }: Config) {
  if (path === undefined) return null
  try {
    return z.record(z.string(), z.string()).parse(JSON.parse(await readFile(path, 'utf8')))
  } catch (cause) {
    throw new ConfigError('GRAPHQL_PERSISTED_FILE must be a JSON object of GraphQL operations by key.', { cause })
  }
}

async function embeddedIssuer(config: Config, machine: EmbeddedMachine | null) {
  if (machine !== null) return machine.issuer.config
  return (await (await import('./embedded/machine.ts')).embeddedIssuerOf(config)).config
}
