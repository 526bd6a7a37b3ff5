import { createHash } from 'node:crypto'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { applyMigrations } from '../../../src/store/migrate/apply-migrations.ts'
import { ensureRoles } from '../../../src/store/migrate/ensure-roles.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { emptyDatabase } from '../../harness/test-database.ts'
import { applyWithPrisma, diagnoseWithPrisma } from './schema-engine.ts'

const SOUND = {
  history: null,
  failedMigrationNames: [],
  editedMigrationNames: [],
  hasMigrationsTable: true,
}

const server = await emptyDatabase()

let directory: string
let url: string
let databases = 0

beforeEach(async () => {
  directory = mkdtempSync(join(tmpdir(), 'limb-ledger-migrations-'))
  write('0001_first', 'create table first_table (n int);\ninsert into first_table values (1);\n')
  write('0002_second', 'create table second_table (n int);\n')
  const own = new URL(server.adminUrl)
  own.pathname += `_${(databases += 1)}`
  url = own.href
  await query(server.adminUrl, `create database ${own.pathname.slice(1)}`)
  await ensureRoles(url, {})
})

afterEach(() => rmSync(directory, { recursive: true, force: true }))

function write(name: string, sql: string): void {
  mkdirSync(join(directory, name), { recursive: true })
  writeFileSync(join(directory, name, 'migration.sql'), sql)
}

async function query(at: string, sql: string): Promise<Record<string, unknown>[]> {
  return withClient(at, async (client) => (await client.query<Record<string, unknown>>(sql)).rows)
}

const history = () =>
  query(
    url,
    `select migration_name, checksum, finished_at is not null as finished, rolled_back_at is not null as rolled_back,
       applied_steps_count, coalesce(logs, '') as logs, length(id) as id_length, started_at <= finished_at as in_order
     from _prisma_migrations order by started_at`,
  )

const columns = () =>
  query(
    url,
    `select a.attname, format_type(a.atttypid, a.atttypmod) as type, a.attnotnull, pg_get_expr(d.adbin, d.adrelid) as value
     from pg_attribute a left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
     where a.attrelid = '_prisma_migrations'::regclass and a.attnum > 0 order by a.attnum`,
  )

describe.each([
  ['our applier', async () => [...(await applyMigrations(url, { directory })).applied]],
  ["Prisma Migrate's engine", () => applyWithPrisma(url, directory)],
])('%s', (_name, apply) => {
  it('applies what is missing, in order, and leaves a history in which the engine finds no fault', async () => {
    expect(await apply()).toEqual(['0001_first', '0002_second'])
    expect(await apply()).toEqual([])
    write('0003_third', 'create table third_table (n int);\n')
    expect(await apply()).toEqual(['0003_third'])
    expect(await diagnoseWithPrisma(url, directory)).toMatchObject(SOUND)
    const row = (name: string) => ({
      migration_name: name,
      checksum: createHash('sha256')
        .update(readFileSync(join(directory, name, 'migration.sql')))
        .digest('hex'),
      finished: true,
      rolled_back: false,
      applied_steps_count: 1,
      logs: '',
      id_length: 36,
      in_order: true,
    })
    expect(await history()).toEqual(['0001_first', '0002_second', '0003_third'].map(row))
  })

  it('makes the history table of the same columns, and tables that belong to the owner', async () => {
    await apply()
    expect(await columns()).toEqual([
      { attname: 'id', type: 'character varying(36)', attnotnull: true, value: null },
      { attname: 'checksum', type: 'character varying(64)', attnotnull: true, value: null },
      { attname: 'finished_at', type: 'timestamp with time zone', attnotnull: false, value: null },
      { attname: 'migration_name', type: 'character varying(255)', attnotnull: true, value: null },
      { attname: 'logs', type: 'text', attnotnull: false, value: null },
      { attname: 'rolled_back_at', type: 'timestamp with time zone', attnotnull: false, value: null },
      { attname: 'started_at', type: 'timestamp with time zone', attnotnull: true, value: 'now()' },
      { attname: 'applied_steps_count', type: 'integer', attnotnull: true, value: '0' },
    ])
    expect(await query(url, `select tableowner from pg_tables where tablename = 'first_table'`)).toEqual([
      { tableowner: 'limb_ledger_owner' },
    ])
  })

  it('goes on where the other one stopped', async () => {
    await apply()
    write('0003_third', 'create table third_table (n int);\n')
    expect((await applyMigrations(url, { directory })).applied).toEqual(['0003_third'])
    write('0004_fourth', 'create table fourth_table (n int);\n')
    expect(await applyWithPrisma(url, directory)).toEqual(['0004_fourth'])
    expect(await diagnoseWithPrisma(url, directory)).toMatchObject(SOUND)
  })
})

describe('applyMigrations', () => {
  it('says what it did, and says so when there was nothing to do', async () => {
    const said: string[] = []
    await applyMigrations(url, { directory, onStep: (sentence) => said.push(sentence) })
    const again = await applyMigrations(url, { directory, onStep: (sentence) => said.push(sentence) })
    expect(said).toEqual(['applied 0001_first', 'applied 0002_second', 'nothing to do: all 2 migrations are there'])
    expect(again).toEqual({ applied: [], alreadyThere: 2 })
  })

  it('lets several instances start at once and applies each migration once', async () => {
    const results = await Promise.all([1, 2, 3, 4].map(() => applyMigrations(url, { directory })))
    expect(results.flatMap((r) => r.applied)).toEqual(['0001_first', '0002_second'])
    expect(await query(url, 'select count(*)::int as n from first_table')).toEqual([{ n: 1 }])
  })

  it('refuses an edited migration and changes nothing', async () => {
    await applyMigrations(url, { directory })
    write('0001_first', 'create table first_table (n bigint);\n')
    write('0003_third', 'create table third_table (n int);\n')
    await expect(applyMigrations(url, { directory })).rejects.toThrow(
      'The migration 0001_first was edited after it was applied.',
    )
    expect(await query(url, `select to_regclass('third_table') as found`)).toEqual([{ found: null }])
  })

  it('refuses a database that is ahead of the files', async () => {
    await applyMigrations(url, { directory })
    rmSync(join(directory, '0002_second'), { recursive: true })
    await expect(applyMigrations(url, { directory })).rejects.toThrow(
      'The database has the migration 0002_second, which is not among the files',
    )
  })

  it('refuses a folder without its file', async () => {
    mkdirSync(join(directory, '0003_empty'))
    await expect(applyMigrations(url, { directory })).rejects.toThrow('The migration 0003_empty has no migration.sql.')
  })

  it('refuses a migration that would come before one already applied', async () => {
    await applyMigrations(url, { directory })
    write('0001_late', 'create table late (n int);\n')
    await expect(applyMigrations(url, { directory })).rejects.toThrow(
      'The migration 0001_late would come after 0002_second, which is applied: give it a later name.',
    )
  })

  it('refuses to go past a migration that another tool left half done', async () => {
    await applyMigrations(url, { directory })
    await query(url, `update _prisma_migrations set finished_at = null where migration_name = '0002_second'`)
    await expect(applyMigrations(url, { directory })).rejects.toThrow(
      'The migration 0002_second began and did not end.',
    )
  })

  it('leaves nothing of a migration that breaks, tells where, and takes the mended file next time', async () => {
    write('0003_third', 'create table third_table (n int);\ncreate table third_table (n int);\n')
    await expect(applyMigrations(url, { directory })).rejects.toThrow(
      'The migration 0003_third was rolled back: relation "third_table" already exists.',
    )
    expect(await query(url, `select to_regclass('third_table') as found`)).toEqual([{ found: null }])
    expect((await history()).at(-1)).toMatchObject({ finished: false, rolled_back: true, applied_steps_count: 0 })
    write('0003_third', 'create table third_table (n int);\nselect wrong from third_table;\n')
    await expect(applyMigrations(url, { directory })).rejects.toThrow('was rolled back (line 2): column "wrong"')
    write('0003_third', 'create table third_table (n int);\n')
    expect((await applyMigrations(url, { directory })).applied).toEqual(['0003_third'])
    expect(await diagnoseWithPrisma(url, directory)).toMatchObject(SOUND)
  })

  it('notices a migration that ends its own transaction and does not call it done', async () => {
    write('0003_third', 'create table third_table (n int);\ncommit;\n')
    await expect(applyMigrations(url, { directory })).rejects.toThrow('leave BEGIN and COMMIT out')
    await expect(applyMigrations(url, { directory })).rejects.toThrow('The migration 0003_third began and did not end.')
  })

  it('refuses a login that may not act as the owner', async () => {
    const app = new URL(url)
    app.username = 'limb_ledger_app'
    app.password = new URL(server.appUrl).password
    await expect(applyMigrations(app.href, { directory })).rejects.toThrow('may not act as limb_ledger_owner')
  })
})
