import pg from 'pg'
import { beforeAll, describe, expect, it } from 'vitest'
import { Prisma } from '../../../src/store/generated/client.ts'
import { loadResults, loadResultsOfSessions } from '../../../src/store/result-store.ts'
import type { VersionOfSession } from '../../../src/store/session-store.ts'
import type { ClinicTx } from '../../../src/tenancy/with-clinic.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, sql, type World } from '../sessions/documents.ts'

/** Sessions of one clinic; LIMB_LEDGER_TREND_SESSIONS=10000 for the long way. */
const SESSIONS = Number(process.env['LIMB_LEDGER_TREND_SESSIONS'] ?? 1_000)
const SUBJECTS = 25
const database = await testDatabase()
const service = await makeTestService(database)
let world: World

/** Copies of one pushed visit, with ids of their own: n of the main subject and the rest of others. */
async function multiply(sessionId: string): Promise<void> {
  const copied = (table: string, row: string) =>
    sql(
      service,
      `insert into ${table} select (jsonb_populate_record(null::${table}, to_jsonb(t) || ${row})).*
       from ${table} t cross join generate_series(1, $2::int) i cross join lateral (
         select case when i % ${SUBJECTS} = 0 then $3::uuid else md5('subject ' || i % ${SUBJECTS})::uuid end as subject
       ) s where t.clinic_id = $1 and ${table === 'session' ? 't.id' : 't.session_id'} = $4::uuid`,
      [world.clinic.clinicId, SESSIONS, world.subjectId, sessionId],
    )
  const id = (column: string): string => `'${column}', md5(i || t.${column}::text)::uuid`
  const of = (...pairs: string[]): string => `jsonb_build_object(${pairs.join(', ')})`
  await sql(
    service,
    `with made as (
       insert into subject select (jsonb_populate_record(null::subject, to_jsonb(t) || jsonb_build_object('id', md5('subject ' || i)::uuid))).*
       from subject t cross join generate_series(1, ${SUBJECTS - 1}) i where t.id = $1 returning 1)
     select count(*) from made`,
    [world.subjectId],
  )
  const when = `'tested_at', t.tested_at - i * interval '1 day'`
  await copied('session', of(id('id'), `'subject_id', subject`, when, `'ext_value', t.ext_value || '-' || i`))
  await copied('session_version', of(id('session_id'), `'subject_id', subject`, when))
  await copied('setup', of(id('id'), id('session_id')))
  await copied('test_set', of(id('id'), id('session_id'), id('setup_id')))
  await sql(
    service,
    `insert into analysis select (jsonb_populate_record(null::analysis, to_jsonb(t) || ${of(id('id'), id('set_id'))})).*
     from analysis t join test_set s on s.clinic_id = t.clinic_id and s.id = t.set_id
     cross join generate_series(1, $2::int) i where s.session_id = $1`,
    [sessionId, SESSIONS],
  )
  await copied(
    'set_result',
    of(id('id'), id('session_id'), id('set_id'), id('analysis_id'), `'subject_id', subject`, when),
  )
}

beforeAll(async () => {
  world = await makeWorld(service)
  await multiply((await world.pushVisit('2026-11-10')).session.id)
  await sql(service, 'vacuum analyze')
}, 300_000)

interface PlanNode {
  readonly 'Node Type': string
  readonly 'Relation Name'?: string
  readonly 'Index Name'?: string
  readonly 'Index Cond'?: string
  readonly Plans?: readonly PlanNode[]
}

const nodesOf = (node: PlanNode): PlanNode[] => [node, ...(node.Plans ?? []).flatMap(nodesOf)]

/** How Postgres answers the store's own statement, asked as the service asks it: its role, its clinic, its parameters. */
async function planOf(ask: (tx: ClinicTx) => Promise<unknown>): Promise<PlanNode[]> {
  let statement: Prisma.Sql = Prisma.empty
  const $queryRaw = (strings: TemplateStringsArray, ...values: unknown[]): Promise<never[]> => {
    statement = Prisma.sql(strings, ...values)
    return Promise.resolve([])
  }
  await ask({ clinicId: world.clinic.clinicId, $queryRaw } as unknown as ClinicTx)
  const client = new pg.Client({ connectionString: database.appUrl })
  await client.connect()
  try {
    await client.query('begin')
    await client.query(`select set_config('app.clinic_id', $1, true)`, [world.clinic.clinicId])
    const { rows } = await client.query<{ 'QUERY PLAN': { Plan: PlanNode }[] }>(
      `explain (format json) ${statement.text}`,
      statement.values,
    )
    const [plan] = rows[0]?.['QUERY PLAN'] ?? []
    return plan === undefined ? [] : nodesOf(plan.Plan)
  } finally {
    await client.end()
  }
}

const SERIES = 'knee|extension'

describe(`a trend among ${SESSIONS} sessions of a clinic`, () => {
  it('is what the copies make of it', async () => {
    const { points } = await world.trend('right')
    expect(points).toHaveLength(1 + Math.floor(SESSIONS / SUBJECTS))
  })

  it.each([
    ['now', new Date()],
    ['as known at an earlier time', new Date(Date.now() - 3_600_000)],
  ])(
    'is answered %s from the index of trends, by clinic, subject and series, and no result is looked at in vain',
    async (_what, knownAt) => {
      const [row] = await sql<{ series: string }>(service, 'select series from set_result where subject_id = $1 limit 1', [world.subjectId]) // prettier-ignore
      const nodes = await planOf((tx) =>
        loadResults(tx, { subjectIds: [world.subjectId], knownAt, series: row?.series ?? SERIES }),
      )
      expect(nodes.filter((n) => n['Relation Name'] === 'set_result' && n['Node Type'] === 'Seq Scan')).toEqual([])
      const index = nodes.find((n) => n['Index Name'] === 'set_result_trend')
      expect(index?.['Index Cond']).toMatch(/clinic_id =/)
      expect(index?.['Index Cond']).toMatch(/subject_id =/)
      expect(index?.['Index Cond']).toMatch(/series =/)
    },
  )

  it('of several subjects at once is answered from the same index, by each of them', async () => {
    const rows = await sql<{ id: string }>(service, 'select id from subject where clinic_id = $1 order by id limit 3', [world.clinic.clinicId]) // prettier-ignore
    const subjectIds = rows.map(({ id }) => id)
    const [row] = await sql<{ series: string }>(service, 'select series from set_result where subject_id = $1 limit 1', [world.subjectId]) // prettier-ignore
    const nodes = await planOf((tx) =>
      loadResults(tx, { subjectIds, knownAt: new Date(), series: row?.series ?? SERIES }),
    )
    expect(nodes.filter((n) => n['Relation Name'] === 'set_result' && n['Node Type'] === 'Seq Scan')).toEqual([])
    const index = nodes.find((n) => n['Index Name'] === 'set_result_trend')
    for (const column of ['clinic_id', 'subject_id', 'series']) expect(index?.['Index Cond']).toContain(`${column} =`)
  })

  it('of every series at once, as readiness and a push ask, is answered from the same index', async () => {
    const nodes = await planOf((tx) => loadResults(tx, { subjectIds: [world.subjectId], knownAt: new Date() }))
    expect(nodes.filter((n) => n['Relation Name'] === 'set_result' && n['Node Type'] === 'Seq Scan')).toEqual([])
    const index = nodes.find((n) => n['Index Name'] === 'set_result_trend')
    expect(index?.['Index Cond']).toMatch(/clinic_id =.*subject_id =|subject_id =.*clinic_id =/)
  })
})

describe(`sessions among ${SESSIONS} of a clinic`, () => {
  it('have the results of thirty of them found by their ids', async () => {
    const of = await sql<VersionOfSession>(
      service,
      'select id as "sessionId", version as "sessionVersion" from session where clinic_id = $1 limit 30',
      [world.clinic.clinicId],
    )
    const nodes = await planOf((tx) => loadResultsOfSessions(tx, of))
    const results = nodes.filter((n) => n['Relation Name'] === 'set_result')
    expect(results).not.toEqual([])
    expect(results.filter((n) => n['Node Type'] === 'Seq Scan')).toEqual([])
    expect(nodes.some((n) => /clinic_id =.*session_id =/.test(n['Index Cond'] ?? ''))).toBe(true)
  })
})
