import { randomBytes } from 'node:crypto'
import { afterAll, describe, expect, it } from 'vitest'
import { startEmbeddedPostgres } from '../../../src/embedded/postgres.ts'
import { ensureRoles, loginUrl } from '../../../src/store/migrate/ensure-roles.ts'
import { applyMigrations } from '../../../src/store/migrate/apply-migrations.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'

// A cluster of its own: what is broken here on purpose would be seen by every test that runs beside this one.
const cluster = await startEmbeddedPostgres()
afterAll(() => cluster.stop())

const password = randomBytes(18).toString('base64url')
const passwords = { app: password, team: password, sealer: password }
const adminUrl = cluster.adminUrl
const appUrl = loginUrl(adminUrl, 'app', password)
await ensureRoles(adminUrl, passwords)

async function query(at: string, sql: string): Promise<Record<string, unknown>[]> {
  return withClient(at, async (client) => (await client.query<Record<string, unknown>>(sql)).rows)
}

describe('ensureRoles', () => {
  it('makes an owner that cannot log in and three logins without any power over the cluster', async () => {
    const rows = await query(
      adminUrl,
      `select rolname::text as name, rolcanlogin as login,
         rolsuper or rolbypassrls or rolcreaterole or rolcreatedb or rolreplication or rolinherit as power
       from pg_roles where starts_with(rolname, 'limb_ledger_') order by 1`,
    )
    expect(rows).toEqual([
      { name: 'limb_ledger_app', login: true, power: false },
      { name: 'limb_ledger_owner', login: false, power: false },
      { name: 'limb_ledger_sealer', login: true, power: false },
      { name: 'limb_ledger_team', login: true, power: false },
    ])
  })

  it('sets right what was wrong, says so, and has nothing to say when repeated', async () => {
    await query(adminUrl, 'alter role limb_ledger_team bypassrls; grant limb_ledger_owner to limb_ledger_team')
    const said: string[] = []
    await ensureRoles(adminUrl, passwords, (sentence) => said.push(sentence))
    expect(said).toEqual([
      'set the role limb_ledger_team right: nobypassrls',
      'took limb_ledger_team out of limb_ledger_owner',
    ])
    await ensureRoles(adminUrl, passwords, (sentence) => said.push(sentence))
    expect(said).toHaveLength(2)
  })

  it('can run for several databases of one cluster at the same time', async () => {
    const another = adminUrl.replace(/limb_ledger$/, 'another')
    await query(adminUrl, 'create database another')
    await Promise.all([adminUrl, another, adminUrl, another].map((url) => ensureRoles(url, passwords)))
    expect(await query(loginUrl(another, 'sealer', password), 'select current_user::text as me')).toEqual([
      { me: 'limb_ledger_sealer' },
    ])
  })

  it('stores the password in a form that does not give it away, and the login works', async () => {
    const [row] = await query(adminUrl, `select rolpassword from pg_authid where rolname = 'limb_ledger_app'`)
    expect(row?.['rolpassword']).toMatch(/^SCRAM-SHA-256\$4096:/)
    expect(row?.['rolpassword']).not.toContain(password)
    expect(await query(appUrl, 'select current_user::text as me')).toEqual([{ me: 'limb_ledger_app' }])
  })

  it('refuses a short password in words that do not repeat it', async () => {
    const short = ensureRoles(adminUrl, { app: 'short-secret' })
    await expect(short).rejects.toThrow('The password of limb_ledger_app is not acceptable')
    await expect(short).rejects.not.toThrow('short-secret')
  })

  it('gives the logins the limits of a request', async () => {
    const limits = `select current_setting('statement_timeout') as statement,
      current_setting('idle_in_transaction_session_timeout') as idle`
    expect(await query(appUrl, limits)).toEqual([{ statement: '2s', idle: '5s' }])
    expect(await query(loginUrl(adminUrl, 'sealer', password), limits)).toEqual([{ statement: '30s', idle: '5s' }])
  })

  it('needs no superuser: a role that may create roles and owns the database is enough, migrations included', async () => {
    const name = `operator_${randomBytes(4).toString('hex')}`
    const secret = randomBytes(18).toString('base64url')
    const own = new URL(adminUrl)
    own.pathname += '_operated'
    await query(adminUrl, `create role ${name} login createrole password '${secret}'`)
    // As where a hosted server was set up for this service: the operator may administer the roles of the service.
    await query(
      adminUrl,
      `grant limb_ledger_owner, limb_ledger_app, limb_ledger_team, limb_ledger_sealer to ${name} with admin option`,
    )
    await query(adminUrl, `create database ${own.pathname.slice(1)} owner ${name}`)
    const operator = new URL(own.href)
    operator.username = name
    operator.password = secret
    await ensureRoles(operator.href, passwords)
    expect((await applyMigrations(operator.href)).applied).toContain('0001_init')
    await query(adminUrl, `drop database ${own.pathname.slice(1)} with (force)`)
    await query(adminUrl, `drop owned by ${name}; drop role ${name}`)
  })
})
