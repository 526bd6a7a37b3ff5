/** The one pool and the Prisma client over it. Nothing outside tenancy/ sees the client. */
import { PrismaPg } from '@prisma/adapter-pg'
import pg from 'pg'
import { PrismaClient } from '../store/generated/client.ts'

export interface Database {
  /** Ugly on purpose: outside tenancy/, use withClinic. */
  readonly unsafeClient: PrismaClient
  /** For an asker who may ask for much at once: when a transaction begins. At once if absent. */
  readonly inTurn?: <T>(transaction: () => Promise<T>) => Promise<T>
  readonly close: () => Promise<void>
  /** Names of the migrations that the database has; rejects when it does not answer. */
  readonly appliedMigrations: () => Promise<readonly string[]>
}

/** A connection under the role of the teams; never the one of the clinics. */
export interface TeamDatabase extends Database {
  readonly teamsOnly: true
}

export const forTeamsOnly = (db: Database): TeamDatabase => ({ ...db, teamsOnly: true })

export interface DatabaseOptions {
  readonly poolSize: number
  /** How long a request waits for a connection. */
  readonly maxWaitMs?: number
  readonly onPoolError?: (error: Error) => void
}

/**
 * Limits sit on the connection, so that no statement can forget them: a hung query ends after 2 s, a forgotten
 * transaction after 5 s, and a request waits at most 500 ms for a connection before it is told to come back.
 */
export function openDatabase(url: string, options: DatabaseOptions): Database {
  const pool = new pg.Pool({
    connectionString: url,
    max: options.poolSize,
    connectionTimeoutMillis: options.maxWaitMs ?? 500,
    statement_timeout: 2_000,
    idle_in_transaction_session_timeout: 5_000,
    application_name: 'limb-ledger',
  })
  // Said by the connection itself, below.
  pool.on('error', () => undefined)
  // The pool listens to a connection only while it lies idle. One that the server ends in the very moment in which it is
  // handed on (a restart does that to all of them at once) would find nobody listening, and take the process along.
  pool.on('connect', (connection) => connection.on('error', (error) => options.onPoolError?.(error)))
  const client = new PrismaClient({ adapter: new PrismaPg(pool, { statementNameGenerator: statementNames() }) })
  return {
    unsafeClient: client,
    close: async () => {
      await client.$disconnect()
      await pool.end()
    },
    appliedMigrations: async () => {
      const rows = await client.$queryRaw<{ name: string }[]>`select name from applied_migrations()`
      return rows.map((row) => row.name)
    },
  }
}

/** A service has some two hundred; a list of ids makes one for each of its lengths, and they must not fill the server. */
const MOST_NAMED = 500

/**
 * A statement with a name is parsed and planned once for each connection: a third of the database's work for a read.
 * The first so many get one, and '' leaves the others without.
 */
function statementNames(): (query: { readonly sql: string }) => string {
  const names = new Map<string, string>()
  return ({ sql }) => {
    if (names.size < MOST_NAMED && !names.has(sql)) names.set(sql, `s${names.size}`)
    return names.get(sql) ?? ''
  }
}
