import { createHash, randomUUID } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import pg from 'pg'
import { OWNER_ROLE } from './ensure-roles.ts'
import { MigrateError } from './migrate-error.ts'
import { withClient } from './with-client.ts'

export interface ApplyOptions {
  readonly onStep?: (sentence: string) => void
  /** Folders of the form NNNN_name/migration.sql; default: prisma/migrations. */
  readonly directory?: string
}

export interface Applied {
  readonly applied: readonly string[]
  readonly alreadyThere: number
}

export interface Migration {
  readonly name: string
  readonly sql: string
  readonly checksum: string
}

interface HistoryRow {
  migration_name: string
  checksum: string
  finished_at: Date | null
  rolled_back_at: Date | null
}

/** The lock number of Prisma Migrate, so that its command line and this never work at the same time. */
const MIGRATION_LOCK = 72707369

/**
 * Brings a database to the last migration, as its owner, each migration in a transaction with its row of history: a
 * crash leaves a migration whole or absent. The history is Prisma Migrate's own table, so its command line can go on
 * from here. Refuses, and changes nothing, when files and history disagree.
 */
export async function applyMigrations(url: string, options: ApplyOptions = {}): Promise<Applied> {
  const { onStep = () => {} } = options
  const migrations = readMigrations(options.directory)
  return withClient(url, async (client) => {
    await becomeOwner(client)
    await takeLock(client)
    await client.query(HISTORY_TABLE)
    const { rows: history } = await client.query<HistoryRow>(
      'select migration_name, checksum, finished_at, rolled_back_at from _prisma_migrations order by started_at',
    )
    const pending = pendingMigrations(migrations, history)
    for (const migration of pending) {
      await applyOne(client, migration)
      onStep(`applied ${migration.name}`)
    }
    const alreadyThere = migrations.length - pending.length
    if (pending.length === 0) onStep(`nothing to do: all ${alreadyThere} migrations are there`)
    return { applied: pending.map((m) => m.name), alreadyThere }
  })
}

export function readMigrations(
  directory = fileURLToPath(new URL('../../../prisma/migrations', import.meta.url)),
): Migration[] {
  // prettier-ignore
  return readdirSync(directory, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort()
    .map((name) => {
      const file = join(directory, name, 'migration.sql')
      if (!existsSync(file)) throw new MigrateError(`The migration ${name} has no migration.sql.`)
      const sql = readFileSync(file, 'utf8')
      return { name, sql, checksum: createHash('sha256').update(sql).digest('hex') }
    })
}

function pendingMigrations(migrations: readonly Migration[], history: readonly HistoryRow[]): Migration[] {
  const known = new Map(migrations.map((m) => [m.name, m]))
  const done = new Set<string>()
  for (const row of history) {
    if (row.rolled_back_at !== null) continue
    const { migration_name: name } = row
    if (row.finished_at === null)
      throw new MigrateError(
        `The migration ${name} began and did not end. Look at what it left, then mark it with ` +
          `"prisma migrate resolve --applied ${name}" or "--rolled-back ${name}".`,
      )
    const migration = known.get(name)
    if (migration === undefined)
      throw new MigrateError(
        `The database has the migration ${name}, which is not among the files: is this an older version of the service?`,
      )
    if (migration.checksum !== row.checksum)
      throw new MigrateError(
        `The migration ${name} was edited after it was applied. Restore the file and put the change into a new migration.`,
      )
    done.add(name)
  }
  const pending = migrations.filter((m) => !done.has(m.name))
  const last = migrations.findLast((m) => done.has(m.name))
  const late = pending.find((m) => last !== undefined && m.name < last.name)
  if (late !== undefined && last !== undefined)
    throw new MigrateError(
      `The migration ${late.name} would come after ${last.name}, which is applied: give it a later name.`,
    )
  return pending
}

async function applyOne(client: pg.Client, { name, sql, checksum }: Migration): Promise<void> {
  const id = randomUUID()
  try {
    await client.query('begin')
    await client.query(
      'insert into _prisma_migrations (id, checksum, migration_name, started_at) values ($1, $2, $3, clock_timestamp())',
      [id, checksum, name],
    )
    await client.query(sql)
    const { rowCount } = await client.query(
      'update _prisma_migrations set finished_at = clock_timestamp(), applied_steps_count = 1 where id = $1 and xmin = pg_current_xact_id()::xid',
      [id],
    )
    if (rowCount !== 1) throw new MigrateError(`it ends the transaction it runs in; leave BEGIN and COMMIT out`)
    await client.query('commit')
  } catch (cause) {
    await client.query('rollback')
    await client.query(
      `insert into _prisma_migrations (id, checksum, migration_name, started_at, logs, rolled_back_at)
       values ($1, $2, $3, clock_timestamp(), $4, clock_timestamp()) on conflict (id) do nothing`,
      [id, checksum, name, String(cause)],
    )
    const where = cause instanceof pg.DatabaseError ? lineOf(sql, cause.position) : ''
    throw new MigrateError(`The migration ${name} was rolled back${where}: ${(cause as Error).message}.`, { cause })
  }
}

function lineOf(sql: string, position: string | undefined): string {
  if (position === undefined) return ''
  return ` (line ${sql.slice(0, Number(position) - 1).split('\n').length})`
}

async function becomeOwner(client: pg.Client): Promise<void> {
  try {
    await client.query(`set role ${OWNER_ROLE}`)
  } catch (cause) {
    throw new MigrateError(`This login may not act as ${OWNER_ROLE}: make the roles first, with a login that may.`, {
      cause,
    })
  }
}

async function takeLock(client: pg.Client): Promise<void> {
  // Also the limit for every table lock: a migration stuck behind a long read would hold up everyone behind it.
  await client.query(`set lock_timeout = '30s'`)
  try {
    await client.query('select pg_advisory_lock($1)', [MIGRATION_LOCK])
  } catch (cause) {
    throw new MigrateError('Another migration of this database is running and did not end within 30 s.', { cause })
  }
}

/** As Prisma Migrate makes it. */
const HISTORY_TABLE = `create table if not exists _prisma_migrations (
  id varchar(36) primary key not null,
  checksum varchar(64) not null,
  finished_at timestamptz,
  migration_name varchar(255) not null,
  logs text,
  rolled_back_at timestamptz,
  started_at timestamptz not null default now(),
  applied_steps_count integer not null default 0
)`
