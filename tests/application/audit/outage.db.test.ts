/** The audit log cannot be written: every route and every field that leaves an event shows nothing and stores nothing. */
import { beforeAll, describe, expect, it } from 'vitest'
import { CLINIC_ROLES } from '../../../src/tenancy/actor.ts'
import { mayDo, TEAM_ACTIONS } from '../../../src/tenancy/policy.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { asker } from '../../faces/graphql/ask.ts'
import { mutationArgs, mutationNames, operationsFor, queryArgs, queryNames, routeOf } from '../../faces/graphql/field-recipes.ts' // prettier-ignore
import {
  call,
  currentVersion,
  makeIds,
  recipeOf,
  registeredRoutes,
  roleFor,
  type Ids,
  type RegisteredRoute,
} from '../../faces/rest/route-recipes.ts'
import { freshClinic, makeTestService, type Answer, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { subjectBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { rowCounts, sql } from '../sessions/documents.ts'

const database = await testDatabase()
const service = await makeTestService(database, { ledger: await makeTestLedger(database) })
const routes = registeredRoutes(service.app)

/** What shows nobody's data leaves no event, and needs none. */
const NOBODYS = ['GET /v1/me', 'GET /v1/code-lists', 'GET /v1/code-lists/:key', 'GET /v1/dynamometers/starter']
const audited = routes.filter(({ name }) => !NOBODYS.includes(name))
const PURPOSE = { Purpose: 'availability-planning' }

let clinic: FreshClinic
/** Records as they are on an ordinary day; and others, made ready for the few routes that need it. */
let ids: Ids
let ready: Ids
let sharedReportId: string
const versions = new Map<RegisteredRoute, string | null>()
let secrets: string[]

beforeAll(async () => {
  clinic = await freshClinic(service)
  ids = await makeIds(service, clinic)
  ready = await makeIds(service, clinic)
  for (const route of audited) await recipeOf(route).before?.(ready)
  for (const route of audited) versions.set(route, await currentVersion(service, recipeOf(route), recordsFor(route)))
  await service.api(clinic.tokens.auditor).post('/v1/audit/seal', {}, { key: null })
  const shared = await sql<{ id: string }>(service, 'select id::text from report_share where team_id = $1', [ids.teamId]) // prettier-ignore
  sharedReportId = shared[0]!.id
  const records = Object.values(ids).filter((value) => typeof value === 'string')
  secrets = [...records, clinic.clinicId, clinic.name, 'Example, Avery', ids.world.number, sharedReportId, 'No. 7']
}, 120_000)

const recordsFor = (route: RegisteredRoute): Ids => (recipeOf(route).before === undefined ? ids : ready)
const send = (route: RegisteredRoute, token: string) =>
  call(service, token, route, recordsFor(route), { ifMatch: versions.get(route) ?? null })

/** The log itself, which nothing may be added to either. */
const counts = async () => ({
  ...(await rowCounts(service)),
  events: (await sql(service, 'select count(*)::int as n from audit_event'))[0],
})

const expectNothing = (what: string, { status, text, headers }: Answer, body: unknown): void => {
  expect({ what, status }).toEqual({ what, status: 503 })
  expect(body).toMatchObject({ code: 'audit_unavailable', retry: 'after_delay' })
  expect([what, ...secrets.filter((secret) => `${text} ${JSON.stringify(headers)}`.includes(secret))]).toEqual([what])
}

const COLUMNS = 'clinic_id, id, actor_principal_id, actor_role, client, purpose, action, outcome, request_id, subject_ids, resource_ids, details' // prettier-ignore

describe.each([
  [
    'may not be written',
    'revoke insert on audit_event from limb_ledger_app, limb_ledger_owner',
    `grant insert on audit_event to limb_ledger_owner; grant insert (${COLUMNS}) on audit_event to limb_ledger_app`,
  ],
  [
    'refuses every row',
    'alter table audit_event add constraint broken check (false) not valid',
    'alter table audit_event drop constraint broken',
  ],
])('while the audit log %s', { timeout: 120_000 }, (_, breaking, mending) => {
  async function broken(work: () => Promise<void>): Promise<void> {
    const before = await counts()
    await withClient(database.adminUrl, (client) => client.query(breaking))
    try {
      await work()
    } finally {
      await withClient(database.adminUrl, (client) => client.query(mending))
    }
    expect(await counts()).toEqual(before)
    // It was the log and nothing else.
    expect((await ids.world.clinician.get(`/v1/subjects/${ids.subjectId}`)).status).toBe(200)
  }

  it('every route is answered with 503, but those that show nobody’s data', async () => {
    expect(routes.length - audited.length).toBe(NOBODYS.length)
    await broken(async () => {
      for (const route of audited) {
        const answer = await send(route, clinic.tokens[roleFor(route.action)])
        expectNothing(route.name, answer, answer.body)
        expect([route.name, answer.headers['retry-after']]).toEqual([route.name, '5'])
      }
      for (const route of routes.filter((one) => !audited.includes(one))) {
        const answer = await send(route, clinic.tokens.clinician)
        expect([route.name, answer.status]).toEqual([route.name, 200])
        expect(answer.text).not.toContain(ids.subjectId)
      }
    })
  })

  it('every refusal is answered with 503 as well: by role, by query, by body, by id and by size', async () => {
    const { owner } = ids.world
    const refusals: Readonly<Record<string, (api: Api) => Promise<Answer>>> = {
      'of a query': (api) => api.get('/v1/subjects?limit=soon'),
      'of a body': (api) => api.post('/v1/subjects', { sex: 'none' }),
      'of an absent id': (api) => api.get('/v1/subjects/01a211e5-4feb-70a8-a310-4dbf8a987363'),
      'of a size': (api) => api.post('/v1/subjects', subjectBody('x'.repeat(70_000))),
      'of a purpose': (api) => api.get('/v1/subjects', { headers: { Purpose: 'Who plays on Sunday' } }),
    }
    await broken(async () => {
      for (const route of routes) {
        const role = CLINIC_ROLES.find((one) => !mayDo(one, route.action))
        if (role === undefined) continue
        const answer = await send(route, clinic.tokens[role])
        expectNothing(`${role} ${route.name}`, answer, answer.body)
      }
      for (const [kind, refused] of Object.entries(refusals)) {
        const answer = await refused(owner)
        expectNothing(kind, answer, answer.body)
      }
    })
  })

  it('every field of GraphQL is answered with 503 and no data, whatever it does', async () => {
    const ask = (role: keyof FreshClinic['tokens']) => asker(service, clinic.tokens[role])
    await broken(async () => {
      for (const name of queryNames.filter((one) => !['me', 'team'].includes(one))) {
        const role = name === 'auditEvents' ? 'auditor' : 'owner'
        for (const { query, variables } of operationsFor('query', name, queryArgs(name, ids), ids)) {
          const answer = await ask(role)(query, variables)
          expect([name, answer.body.data]).toEqual([name, null])
          expectNothing(name, answer, answer.body.errors?.[0]?.extensions.problem)
        }
      }
      for (const name of mutationNames) {
        const { action } = routes.find((route) => route.name === routeOf(name)) as RegisteredRoute
        const [operation] = operationsFor('mutation', name, mutationArgs(name, ids), ids)
        const answer = await ask(roleFor(action))(operation!.query, operation!.variables)
        expect([name, answer.body.data]).toEqual([name, null])
        expectNothing(name, answer, answer.body.errors?.[0]?.extensions.problem)
      }
    })
  })

  it('a team is shown nothing, by address or by field', async () => {
    const api = service.api(ids.teamToken)
    const addresses = ['/v1/team/squad', '/v1/team/reports', `/v1/team/reports/${sharedReportId}`]
    expect(addresses).toHaveLength(TEAM_ACTIONS.length)
    for (const url of addresses) expect((await api.get(url, { headers: PURPOSE })).status).toBe(200)
    await broken(async () => {
      for (const url of addresses) {
        const answer = await api.get(url, { headers: PURPOSE })
        expectNothing(url, answer, answer.body)
      }
      const answer = await asker(service, ids.teamToken)('{ team { squad { rows { displayName } } } }', {}, PURPOSE)
      expect(answer.body.data).toBeNull()
      expectNothing('team', answer, answer.body.errors?.[0]?.extensions.problem)
    })
  })
})
