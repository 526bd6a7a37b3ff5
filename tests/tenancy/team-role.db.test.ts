import pg from 'pg'
import { v7 as uuidv7 } from 'uuid'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { freshTeam, makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'
import { asTeam, clinicWorld, day, type ClinicWorld } from '../harness/sharing-clinic.ts'

const database = await testDatabase()
const service = await makeTestService(database)
const TEAM_ROLE = 'limb_ledger_team'
type Row = Record<string, unknown>

const asked = async (sql: string, parameters: unknown[] = []) =>
  withClient(database.adminUrl, async (client) => (await client.query<Row>(sql, parameters)).rows)

describe('the grants of the role of the teams, as the catalogue has them', () => {
  it('are to read columns of three tables, and no other right on any table', async () => {
    const columns = await asked(
      `select c.relname::text || '.' || a.attname::text || ' ' || p.privilege as "right"
       from pg_class c join pg_namespace n on n.oid = c.relnamespace and n.nspname = 'public'
       join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped,
         unnest(array['select', 'insert', 'update', 'references']) as p (privilege)
       where c.relkind in ('r', 'p', 'v', 'm') and has_column_privilege($1, c.oid, a.attnum, p.privilege) order by 1`,
      [TEAM_ROLE],
    )
    const of = (table: string, names: string) => names.split(' ').sort().map((name) => `${table}.${name} select`) // prettier-ignore
    expect(columns.map((row) => row['right'])).toEqual(
      [
        ...of('consent', 'clinic_id id team_id level team_reference display_name purposes valid_from valid_until until_on'),
        ...of('report_share', 'clinic_id id team_id report_version appears_at gone_at'),
        ...of('shared_report', 'clinic_id id report_version team_id consent_id level evaluated_on expires_at signed_at body jws key_id'),
      ].sort(),
    ) // prettier-ignore
    const whole = await asked(
      `select c.relname::text as name from pg_class c join pg_namespace n on n.oid = c.relnamespace and n.nspname = 'public',
         unnest(array['select', 'insert', 'update', 'delete', 'truncate', 'references', 'trigger']) as p (privilege)
       where c.relkind in ('r', 'p', 'v', 'm') and has_table_privilege($1, c.oid, p.privilege)`,
      [TEAM_ROLE],
    )
    expect(whole).toEqual([])
  })

  it('are to call two functions, and to read no sequence', async () => {
    const functions = await asked(
      `select f.proname::text as name from pg_proc f
       where f.pronamespace = 'public'::regnamespace and has_function_privilege($1, f.oid, 'execute') order by 1`,
      [TEAM_ROLE],
    )
    expect(functions.map((row) => row['name'])).toEqual(['append_team_event', 'shared_report_currency'])
    const sequences = await asked(
      `select c.relname::text as name from pg_class c where c.relkind = 'S' and c.relnamespace = 'public'::regnamespace
         and (has_sequence_privilege($1, c.oid, 'usage') or has_sequence_privilege($1, c.oid, 'select'))`,
      [TEAM_ROLE],
    )
    expect(sequences).toEqual([])
  })
})

describe('SQL under the role of the teams', () => {
  let client: pg.Client
  let world: ClinicWorld
  let mine: Awaited<ReturnType<typeof freshTeam>>
  let theirs: Awaited<ReturnType<typeof freshTeam>>
  beforeAll(async () => {
    world = await clinicWorld(service, '71')
    ;[mine, theirs] = [await freshTeam(service), await freshTeam(service)]
    await world.subject.push(world.visit(day(-2)))
    await world.sign()
    for (const team of [mine, theirs]) {
      await world.invite(team.teamId)
      await world.consent(team.teamId, { teamReference: team.teamId.slice(-6) })
    }
    client = new pg.Client({ connectionString: database.teamUrl })
    await client.connect()
  })
  afterAll(() => client.end())

  /** As an attacker with the whole language at hand: every setting is theirs to choose. */
  async function as(settings: Record<string, string>, sql: string): Promise<Row[]> {
    await client.query('begin')
    try {
      for (const [name, value] of Object.entries(settings))
        await client.query('select set_config($1, $2, true)', [name, value])
      return (await client.query<Row>(sql)).rows
    } finally {
      await client.query('rollback')
    }
  }
  const me = () => ({ 'app.team_id': mine.teamId, 'app.purpose': 'availability-planning' })

  it('sees its own shares and nobody else’s, whichever clinic it says it is', async () => {
    for (const settings of [me(), { ...me(), 'app.clinic_id': world.clinic.clinicId }]) {
      expect(await as(settings, 'select team_id from consent')).toEqual([{ team_id: mine.teamId }])
      expect(await as(settings, 'select team_id from shared_report')).toEqual([{ team_id: mine.teamId }])
      expect(await as(settings, 'select team_id from report_share')).toEqual([{ team_id: mine.teamId }])
    }
  })

  it('sees nothing without a team or a purpose, or with a purpose that is not agreed', async () => {
    const { 'app.purpose': _, ...noPurpose } = me()
    for (const settings of [
      {},
      { 'app.clinic_id': world.clinic.clinicId },
      noPurpose,
      { ...me(), 'app.purpose': 'marketing' },
    ])
      for (const table of ['consent', 'shared_report'])
        expect(await as(settings, `select id from ${table}`)).toEqual([])
  })

  it.each([
    'select subject_id from consent',
    'select guardian from consent',
    'select document_reference from consent',
    'select * from consent',
    'select report_id from report_share',
    'select consent_id from report_share',
    'select body from report_projection',
    'select note from report',
    'select document from evaluation',
    'select result_id from evaluation_basis',
    'select id from subject',
    'select document from subject_version',
    'select value from subject_identifier',
    'select measures from set_result',
    'select id from audit_event',
    'select name from team',
    'select name from clinic',
    'delete from shared_report',
    'update report_share set gone_at = now()',
    `insert into audit_event (clinic_id, id, action, outcome, request_id) values (gen_random_uuid(), gen_random_uuid(), 'x', 'done', 'x')`,
    'set role limb_ledger_app',
    `select * from find_team(gen_random_uuid())`,
    `select * from evaluation_currency(gen_random_uuid())`,
  ])('may not: %s', async (sql) => {
    const settings = { ...me(), 'app.clinic_id': world.clinic.clinicId }
    await expect(as(settings, sql)).rejects.toMatchObject({ code: '42501' })
  })

  it('can’t write into the log of a clinic where nobody consented to it, nor name another team’s shares in one', async () => {
    const stranger = await clinicWorld(service, '72')
    const event = (clinicId: string, shares: string) =>
      `select append_team_event('${clinicId}', '${uuidv7()}', '${uuidv7()}', null, 'x', 'team.squad.read', 'r', ${shares}, '{}')`
    await expect(as(me(), event(stranger.clinic.clinicId, `'{}'`))).rejects.toThrow('no consent in this clinic')
    const other = await asked('select id from report_share where team_id = $1', [theirs.teamId])
    const id = uuidv7()
    const sql = event(world.clinic.clinicId, `'{${String(other[0]?.['id'])}}'`).replace(
      /, '[0-9a-f-]{36}'/,
      `, '${id}'`,
    )
    await client.query('begin')
    for (const [name, value] of Object.entries(me()))
      await client.query('select set_config($1, $2, true)', [name, value])
    await client.query(sql)
    await client.query('commit')
    expect(await asked('select subject_ids from audit_event where id = $1', [id])).toEqual([{ subject_ids: [] }])
  })

  it('learns of another team’s reports neither that they are there nor how they stand', async () => {
    const found = await as(me(), `select id from shared_report_currency('${world.clinic.clinicId}')`)
    const own = await asTeam(service.api(mine.token)).get<{ rows: { reportId: string }[] }>('/v1/team/squad')
    expect(found).toEqual([{ id: own.body.rows[0]?.reportId }])
  })
})
