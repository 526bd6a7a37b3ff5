// Prisma Migrate's engine as WebAssembly: the second opinion on our own applier and the judge of drift. An internal
// package of Prisma without stable types, so nothing outside this file knows it.
import { readdirSync, readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { fileURLToPath } from 'node:url'
import { PrismaPg } from '@prisma/adapter-pg'
import { bindMigrationAwareSqlAdapterFactory, ColumnTypeEnum } from '@prisma/driver-adapter-utils'
import pg from 'pg'

const require = createRequire(import.meta.url)
const PRISMA = fileURLToPath(new URL('../../../prisma/', import.meta.url))
const MIGRATIONS = `${PRISMA}migrations`
const FILTERS = { externalTables: [], externalEnums: [] }

interface Diagnosis {
  history: unknown
  failedMigrationNames: string[]
  editedMigrationNames: string[]
  hasMigrationsTable: boolean
}

interface Engine {
  applyMigrations(input: object): Promise<{ appliedMigrationNames: string[] }>
  diagnoseMigrationHistory(input: object): Promise<Diagnosis>
  diff(input: object): Promise<{ stdout: string | null }>
}

interface EngineModule {
  __wbg_set_wasm(exports: unknown): void
  SchemaEngine: { new: (options: object, log: () => void, factory: unknown) => Promise<Engine> }
}

// The language's own types know WebAssembly only together with the browser's.
declare const WebAssembly: {
  Module: new (bytes: Uint8Array) => object
  Instance: new (module: object, imports: object) => { exports: { __wbindgen_start(): void } }
}

let loaded: EngineModule | undefined

async function loadEngine(): Promise<EngineModule> {
  if (loaded !== undefined) return loaded
  const entry = require.resolve('@prisma/schema-engine-wasm/schema_engine_bg')
  const module = (await import(entry)) as EngineModule
  const compiled = new WebAssembly.Module(readFileSync(entry.replace(/\.js$/, '.wasm')))
  const { exports } = new WebAssembly.Instance(compiled, { './schema_engine_bg.js': module })
  module.__wbg_set_wasm(exports)
  exports.__wbindgen_start()
  loaded = module
  return module
}

const datamodel = { path: 'schema.prisma', content: readFileSync(`${PRISMA}schema.prisma`, 'utf8') }

/**
 * Through a driver adapter the engine cannot read the system catalogue's one-letter type "char" (prisma/orm issue
 * 29635), nor CHECKs of PostgreSQL 18, where NOT NULL counts as one. The letters are passed as text and named
 * characters again; CHECKs, with which the engine only warns, are left to the catalogue golden.
 */
class PrismaPgForEngine extends PrismaPg {
  override async connect() {
    const adapter = await super.connect()
    const queryRaw = adapter.queryRaw.bind(adapter)
    adapter.queryRaw = async (query) => {
      const sql = query.sql
        .replace(/\bcon\.(confdeltype|confupdtype)\b/g, 'con.$1::text')
        .replace('constr.contype AS', 'constr.contype::text AS')
        .replace("AND contype NOT IN ('p', 'u', 'f')", 'AND false')
      const result = await queryRaw({ ...query, sql })
      const columnTypes = result.columnNames.map((name, i) =>
        name === 'confdeltype' || name === 'confupdtype' ? ColumnTypeEnum.Character : result.columnTypes[i]!,
      )
      return { ...result, columnTypes }
    }
    return adapter
  }
}

async function withEngine<T>(url: string, work: (engine: Engine) => Promise<T>): Promise<T> {
  const { SchemaEngine } = await loadEngine()
  const pool = new pg.Pool({ connectionString: url, options: '-c role=limb_ledger_owner' })
  try {
    const factory = bindMigrationAwareSqlAdapterFactory(new PrismaPgForEngine(pool))
    return await work(await SchemaEngine.new({ datamodels: [[datamodel.path, datamodel.content]] }, () => {}, factory))
  } finally {
    await pool.end() // and with it the engine's advisory lock
  }
}

function migrationsList(directory: string) {
  return {
    baseDir: directory,
    lockfile: { path: 'migration_lock.toml', content: 'provider = "postgresql"\n' },
    shadowDbInitScript: '',
    migrationDirectories: readdirSync(directory, { withFileTypes: true })
      .filter((entry) => entry.isDirectory())
      .map(({ name }) => ({
        path: name,
        migrationFile: {
          path: 'migration.sql',
          content: { tag: 'ok', value: readFileSync(`${directory}/${name}/migration.sql`, 'utf8') },
        },
      })),
  }
}

export async function applyWithPrisma(url: string, directory = MIGRATIONS): Promise<string[]> {
  const input = { migrationsList: migrationsList(directory), filters: FILTERS }
  return withEngine(url, async (engine) => (await engine.applyMigrations(input)).appliedMigrationNames)
}

export async function diagnoseWithPrisma(url: string, directory = MIGRATIONS): Promise<Diagnosis> {
  const input = { migrationsList: migrationsList(directory), optInToShadowDatabase: false, filters: FILTERS }
  return withEngine(url, (engine) => engine.diagnoseMigrationHistory(input))
}

/** The SQL that would bring the database to schema.prisma; a comment alone when nothing is missing. */
export async function driftFromSchema(url: string): Promise<string> {
  const input = {
    from: { tag: 'schemaDatasource', files: [datamodel], configDir: PRISMA }, // the database the adapter is bound to
    to: { tag: 'schemaDatamodel', files: [datamodel] },
    script: true,
    exitCode: null,
    shadowDatabaseUrl: null,
    filters: FILTERS,
  }
  return withEngine(url, async (engine) => (await engine.diff(input)).stdout ?? '')
}
