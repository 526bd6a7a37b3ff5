import pg from 'pg'
import { MigrateError } from './migrate-error.ts'
import { scramVerifier } from './scram-verifier.ts'
import { withClient } from './with-client.ts'

/** Owns every table and logs in nowhere: whoever breaks into the service owns nothing. */
export const OWNER_ROLE = 'limb_ledger_owner'

export const LOGIN_ROLES = { app: 'limb_ledger_app', team: 'limb_ledger_team', sealer: 'limb_ledger_sealer' } as const

export type LoginRole = keyof typeof LOGIN_ROLES
/** A role whose password is left out keeps the one it has; a new one then has none and cannot log in. */
export type RolePasswords = Readonly<Partial<Record<LoginRole, string>>>

/** A request never waits longer than this for the database; the sealer may, since it works through a backlog. */
const SETTINGS: Readonly<Record<LoginRole, Readonly<Record<string, string>>>> = {
  app: { statement_timeout: '2s', idle_in_transaction_session_timeout: '5s' },
  team: { statement_timeout: '2s', idle_in_transaction_session_timeout: '5s' },
  sealer: { statement_timeout: '30s', idle_in_transaction_session_timeout: '5s' },
}

interface RoleRow {
  rolsuper: boolean
  rolbypassrls: boolean
  rolcreaterole: boolean
  rolcreatedb: boolean
  rolreplication: boolean
  rolcanlogin: boolean
  rolinherit: boolean
}

/**
 * Makes the four roles and gives this database to the owner. Roles belong to the cluster and passwords to the operator,
 * so neither can stand in a migration. Safe to repeat: what is right stays, what is wrong is set right, and the login
 * roles get the passwords given. Needs a superuser, or a role with CREATEROLE that owns the database.
 */
export async function ensureRoles(
  adminUrl: string,
  passwords: RolePasswords,
  onStep: (sentence: string) => void = () => {},
): Promise<void> {
  const verifiers = new Map(loginRoles().map((role) => [role, verifierFor(role, passwords[role])]))
  await withClient(adminUrl, async (client) => {
    await ensureRole(client, OWNER_ROLE, false, onStep)
    for (const role of loginRoles()) await ensureRole(client, LOGIN_ROLES[role], true, onStep)
    for (const role of loginRoles()) await ensureLogin(client, role, verifiers.get(role))
    await giveDatabaseToOwner(client)
  })
}

/** The URL under which one of the login roles reaches the same database. */
export function loginUrl(adminUrl: string, role: LoginRole, password: string): string {
  const url = new URL(adminUrl)
  url.username = LOGIN_ROLES[role]
  url.password = encodeURIComponent(password)
  return url.href
}

const loginRoles = () => Object.keys(LOGIN_ROLES) as LoginRole[]

function verifierFor(role: LoginRole, password: string | undefined): string | undefined {
  try {
    return password === undefined ? undefined : scramVerifier(password)
  } catch (cause) {
    throw new MigrateError(`The password of ${LOGIN_ROLES[role]} is not acceptable: ${(cause as Error).message}.`, {
      cause,
    })
  }
}

async function ensureRole(
  client: pg.Client,
  role: string,
  login: boolean,
  onStep: (sentence: string) => void,
): Promise<void> {
  const wanted: RoleRow = {
    rolsuper: false,
    rolbypassrls: false,
    rolcreaterole: false,
    rolcreatedb: false,
    rolreplication: false,
    rolcanlogin: login,
    rolinherit: false,
  }
  const find = async () =>
    (
      await client.query<RoleRow>(
        `select rolsuper, rolbypassrls, rolcreaterole, rolcreatedb, rolreplication, rolcanlogin, rolinherit
         from pg_roles where rolname = $1`,
        [role],
      )
    ).rows[0]
  let found = await find()
  if (found === undefined) {
    await atOnce(() => client.query(`create role ${role} ${login ? 'login' : 'nologin'} noinherit`))
    onStep(`made the role ${role}`)
    found = await find()
  }
  // Only what differs is named: naming SUPERUSER or BYPASSRLS at all, even to deny it, takes a superuser.
  const wrong = (Object.keys(wanted) as (keyof RoleRow)[]).filter((key) => found?.[key] !== wanted[key])
  if (wrong.length > 0) {
    const words = wrong.map((key) => (wanted[key] ? WORDS[key] : `no${WORDS[key]}`)).join(' ')
    await atOnce(() => client.query(`alter role ${role} ${words}`))
    onStep(`set the role ${role} right: ${words}`)
  }
  // As a member of another role it could take that role's rights by SET ROLE.
  const { rows } = await client.query<{ name: string }>(
    `select g.rolname as name from pg_auth_members m join pg_roles g on g.oid = m.roleid join pg_roles r on r.oid = m.member
     where r.rolname = $1`,
    [role],
  )
  for (const { name } of rows) {
    await atOnce(() => client.query(`revoke ${client.escapeIdentifier(name)} from ${role}`))
    onStep(`took ${role} out of ${name}`)
  }
}

const WORDS: Readonly<Record<keyof RoleRow, string>> = {
  rolsuper: 'superuser',
  rolbypassrls: 'bypassrls',
  rolcreaterole: 'createrole',
  rolcreatedb: 'createdb',
  rolreplication: 'replication',
  rolcanlogin: 'login',
  rolinherit: 'inherit',
}

async function ensureLogin(client: pg.Client, role: LoginRole, verifier: string | undefined): Promise<void> {
  const name = LOGIN_ROLES[role]
  if (verifier !== undefined)
    await atOnce(() => client.query(`alter role ${name} password ${client.escapeLiteral(verifier)}`))
  for (const [setting, value] of Object.entries(SETTINGS[role]))
    await atOnce(() => client.query(`alter role ${name} set ${setting} = ${client.escapeLiteral(value)}`))
}

async function giveDatabaseToOwner(client: pg.Client): Promise<void> {
  const { rows } = await client.query<{ database: string; superuser: boolean; schema_owner: string }>(
    `select current_database() as database, r.rolsuper as superuser,
            (select pg_get_userbyid(nspowner) from pg_namespace where nspname = 'public') as schema_owner
     from pg_roles r where r.rolname = current_user`,
  )
  const row = rows[0]
  if (row === undefined) throw new MigrateError('The database does not say who we are.')
  const database = client.escapeIdentifier(row.database)
  if (!row.superuser) await atOnce(() => client.query(`grant ${OWNER_ROLE} to current_user`))
  if (row.schema_owner !== OWNER_ROLE) await atOnce(() => client.query(`alter schema public owner to ${OWNER_ROLE}`))
  // TEMPORARY among them: a temporary table could stand in for one of ours in a function that trusts its search path.
  await atOnce(() => client.query(`revoke all on database ${database} from public`))
  await atOnce(() =>
    client.query(`grant connect on database ${database} to ${[...Object.values(LOGIN_ROLES), OWNER_ROLE].join(', ')}`),
  )
}

/** Roles are shared by the cluster, so a bootstrap of another database may touch the same row in the same moment. */
async function atOnce(statement: () => Promise<unknown>): Promise<void> {
  for (let attempt = 1; ; attempt += 1) {
    try {
      await statement()
      return
    } catch (error) {
      const code = error instanceof pg.DatabaseError ? error.code : undefined
      if (code === '42710' || (code === '23505' && attempt > 1)) return // made meanwhile
      const collided = code === '23505' || (error as Error).message.includes('concurrently updated')
      if (!collided || attempt === 20) throw error
      await new Promise((settle) => setTimeout(settle, 10 * attempt))
    }
  }
}
