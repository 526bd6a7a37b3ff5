/**
 * What a database must be before the service writes an acknowledged word into it. Asked once at boot; each answer is a
 * sentence that says what is wrong, and an empty list lets the service start.
 */
import { readMigrations } from './migrate/apply-migrations.ts'
import { withClient } from './migrate/with-client.ts'

/** The first release of each major version without CVE-2025-8713 (statistics that show rows behind a policy). */
const FIRST_ACCEPTED: Readonly<Record<number, number>> = { 15: 14, 16: 10, 17: 6 }
const OLDEST_MAJOR = 15

interface ServerFacts {
  version_number: number
  fsync: string
  full_page_writes: string
  synchronous_commit: string
  role: string
  above_policies: boolean
}

export async function checkServer(url: string): Promise<readonly string[]> {
  return withClient(url, async (client) => {
    const { rows } = await client.query<ServerFacts>(
      `select current_setting('server_version_num')::int as version_number, current_setting('fsync') as fsync,
              current_setting('full_page_writes') as full_page_writes,
              current_setting('synchronous_commit') as synchronous_commit, current_user::text as role,
              (select rolsuper or rolbypassrls from pg_roles where rolname = current_user) as above_policies`,
    )
    const facts = rows[0]
    if (facts === undefined) return ['The database does not say what it is.']
    return [
      ...faultsOf(facts),
      ...(await missingMigrations(() => client.query('select name from applied_migrations()'))),
    ]
  })
}

export function faultsOf(facts: ServerFacts): string[] {
  const faults: string[] = []
  const [major, minor] = [Math.floor(facts.version_number / 10_000), facts.version_number % 10_000]
  const wanted = FIRST_ACCEPTED[major]
  if (major < OLDEST_MAJOR || (wanted !== undefined && minor < wanted))
    faults.push(
      `PostgreSQL ${major}.${minor} is too old: 15.14, 16.10, 17.6 or any 18 and later is needed (CVE-2025-8713).`,
    )
  for (const setting of ['fsync', 'full_page_writes'] as const)
    if (facts[setting] !== 'on')
      faults.push(`${setting} is ${facts[setting]}: an acknowledged write could be lost. Turn it on.`)
  // Every other word (local, remote_write, remote_apply) waits for this machine's disk as "on" does.
  if (facts.synchronous_commit === 'off')
    faults.push('synchronous_commit is off: an acknowledged write could be lost. Turn it on.')
  if (facts.above_policies)
    faults.push(`The role ${facts.role} stands above row-level security. Use limb_ledger_app, which owns nothing.`)
  return faults
}

async function missingMigrations(ask: () => Promise<{ rows: { name: string }[] }>): Promise<string[]> {
  const applied = await ask().catch(() => null)
  if (applied === null)
    return ['The database has no schema of ours, or this login may not ask: run "npm run db:migrate".']
  const missing = missingFrom(applied.rows.map((row) => row.name))
  return missing.length === 0 ? [] : [`These migrations are missing: ${missing.join(', ')}. Run "npm run db:migrate".`]
}

const known = readMigrations().map((migration) => migration.name)

/** Migrations among our files that a database does not have. */
export function missingFrom(applied: readonly string[]): string[] {
  return known.filter((name) => !applied.includes(name))
}
