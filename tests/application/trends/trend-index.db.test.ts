import pg from 'pg'
import { beforeAll, describe, expect, it } from 'vitest'
import { Prisma } from '../../../src/store/generated/client.ts'
import { loadResults, loadResultsOfSessions } from '../../../src/store/result-store.ts'
import type { VersionOfSession } from '../../../src/store/session-store.ts'
import type { ClinicTx } from '../../../src/tenancy/with-clinic.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, sql, type World } from '../sessions/documents.ts'

/** Sessions of one clinic; LIMB_LEDGER_TREND_SESSIONS changes it. */
const SESSIONS = Number(process.env['LIMB_LEDGER_TREND_SESSIONS'] ?? 10_000)
const SUBJECTS = 25
const database = await testDatabase()
const service = await makeTestService(database)
let world: World

/** Expressions in the place of columns of a copy; `t` is the row copied, `i` the number of the copy. */
type Instead = Readonly<Record<string, string>>

const newId = (column: string): string => `md5(i || t.${column}::text)::uuid`
const SUBJECT = `case when i % ${SUBJECTS} = 0 then $2::uuid else md5('subject ' || i % ${SUBJECTS})::uuid end`
const ids = (...columns: string[]): Instead => Object.fromEntries(columns.map((column) => [column, newId(column)]))
const when = { tested_at: `t.tested_at - i * interval '1 day'` }

/** Copies of one pushed visit, with ids of their own: n of the main subject and the rest of others. */
async function multiply(sessionId: string): Promise<void> {
  await withClient(database.adminUrl, async (client) => {
    // Every copy points where its row pointed, or at a copy: the checks of that would take most of the time
    await client.query(`set session_replication_role = 'replica'`)
    const copy = async (table: string, of: string, instead: Instead, times = SESSIONS) => {
      const { rows } = await client.query<{ name: string }>(
        `select attname as name from pg_attribute where attrelid = $1::regclass and attnum > 0 and not attisdropped and attgenerated = ''`,
        [table],
      )
      const names = rows.map(({ name }) => name)
      const values = names.map((name) => instead[name] ?? `t.${name}`)
      await client.query(
        `insert into ${table} (${names.join(', ')}) select ${values.join(', ')}
         from ${table} t cross join generate_series(1, ${times}) i where ${of} and $2::uuid is not null`,
        [table === 'subject' ? world.subjectId : sessionId, world.subjectId],
      )
    }
    const ofSession = 't.session_id = $1::uuid'
    const subject = { subject_id: SUBJECT }
    await copy('subject', 't.id = $1::uuid', { id: `md5('subject ' || i)::uuid` }, SUBJECTS - 1)
    await copy('session', 't.id = $1::uuid', { ...ids('id'), ...subject, ...when, ext_value: `t.ext_value || '-' || i` }) // prettier-ignore
    await copy('session_version', ofSession, { ...ids('session_id'), ...subject, ...when })
    await copy('setup', ofSession, ids('id', 'session_id'))
    await copy('analysis', 't.set_id in (select id from test_set where session_id = $1::uuid)', ids('id', 'set_id'))
    await copy('test_set', ofSession, ids('id', 'session_id', 'setup_id'))
    // As many ways to set up as there are visits, at worst
    const another = `sha256(convert_to(i || encode(t.hash, 'hex'), 'UTF8'))`
    await copy('comparability_key', '$1::uuid is not null', { hash: another }, SESSIONS / 4)
    await copy('set_result', ofSession, { ...ids('id', 'session_id', 'set_id', 'analysis_id'), ...subject, ...when })
  })
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
    'is answered %s from the index of trends, by clinic, subject and series, and no table is looked through',
    async (_what, knownAt) => {
      const [row] = await sql<{ series: string }>(service, 'select series from set_result where subject_id = $1 limit 1', [world.subjectId]) // prettier-ignore
      const nodes = await planOf((tx) =>
        loadResults(tx, { subjectIds: [world.subjectId], knownAt, series: row?.series ?? SERIES }),
      )
      expect(nodes.filter((n) => n['Node Type'] === 'Seq Scan')).toEqual([])
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
