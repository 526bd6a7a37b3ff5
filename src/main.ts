/** Starts the service and ends it in order. The only file that does anything when it is loaded. */
import './server/require-node.js'
import closeWithGrace from 'close-with-grace'
import { buildApp } from './app.ts'
import { createPreparationPool } from './application/prepare-session/pool.ts'
import { ConfigError, readConfig, type Config } from './config.ts'
import { makeTokenVerifier } from './server/verify-token.ts'
import { checkServer } from './store/check-server.ts'
import { openDatabase } from './tenancy/database.ts'

/** A push is refused at once when this many wait for each thread; a document that takes longer than this is given up. */
const WAITING_PER_THREAD = 8
const PREPARATION_LIMIT_MS = 20_000
/** In flight at SIGTERM: up to this long. */
const CLOSING_LIMIT_MS = 10_000

async function start(config: Config): Promise<void> {
  const say = (sentence: string): void => void process.stderr.write(`limb-ledger: ${sentence}\n`)

  // A machine without a database or an issuer gets its own; production named both, readConfig saw to that.
  const machine =
    config.DATABASE_URL === undefined
      ? await (await import('./embedded/machine.ts')).startEmbeddedMachine(config, say)
      : null
  const databaseUrl = config.DATABASE_URL ?? machine?.urls.app ?? ''
  const issuers = config.ISSUERS.length > 0 ? config.ISSUERS : [await embeddedIssuer(config)]

  const faults = await checkServer(databaseUrl)
  if (faults.length > 0) {
    await machine?.stop()
    throw new ConfigError(faults.join(' '))
  }

  const pool = createPreparationPool({
    threads: config.WORKERS,
    maxQueue: config.WORKERS * WAITING_PER_THREAD,
    timeLimitMs: PREPARATION_LIMIT_MS,
  })
  const db = openDatabase(databaseUrl, {
    poolSize: config.POOL_SIZE,
    onPoolError: (error) => app.log.warn({ err: error }),
  })
  const app = await buildApp({
    db,
    pool,
    verify: makeTokenVerifier(issuers, config.AUDIENCE),
    clock: () => new Date(),
    http: { logLevel: config.LOG_LEVEL },
  })

  closeWithGrace({ delay: CLOSING_LIMIT_MS, logger: app.log }, async ({ err }) => {
    if (err !== undefined) app.log.error({ err }, 'closing after an error')
    // Answers first, then what they were made with.
    await app.close()
    await pool.close()
    await db.close()
    await machine?.stop()
  })

  await pool.warmUp()
  await app.listen({ host: config.HOST, port: config.PORT })
}

async function embeddedIssuer(config: Config) {
  return (await (await import('./embedded/machine.ts')).embeddedIssuerOf(config)).config
}

try {
  await start(readConfig(process.env))
} catch (error) {
  process.stderr.write(`limb-ledger does not start: ${error instanceof Error ? error.message : String(error)}\n`)
  process.exit(1)
}
