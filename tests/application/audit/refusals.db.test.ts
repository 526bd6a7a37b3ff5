/** Whoever was refused what: in the log of the clinic where one is known, else in the bounded log of the machine, once. */
import { beforeAll, describe, expect, it } from 'vitest'
import { TEAM_ACTIONS } from '../../../src/tenancy/policy.ts'
import { makeTestService, type Answer } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asker } from '../../faces/graphql/ask.ts'
import { call, makeIds, registeredRoutes, type Ids } from '../../faces/rest/route-recipes.ts'
import { freshClinic } from '../../harness/clinic.ts'
import { sql } from '../sessions/documents.ts'

const PLANTED = 'permission denied for table subject_version'
const service = await makeTestService(await testDatabase(), {}, { plantedFault: PLANTED })
const routes = registeredRoutes(service.app)
const PURPOSE = { Purpose: 'availability-planning' }
const NOBODY = '01a211e5-4feb-70a8-a310-4dbf8a987363'

let ids: Ids
let tokens: Ids['world']['clinic']['tokens']
beforeAll(async () => {
  ids = await makeIds(service, await freshClinic(service))
  tokens = ids.world.clinic.tokens
}, 60_000)

interface Noted {
  readonly ledger: readonly { readonly action: string; readonly outcome: string; readonly code: string }[]
  readonly machine: readonly string[]
}

/** Where a request was written down, by the id that its answer carried. */
async function noted({ headers }: Answer): Promise<Noted> {
  const id = headers['x-request-id']
  const ledger = await sql<Noted['ledger'][number]>(service, `select action, outcome, details ->> 'code' as code from audit_event where request_id = $1`, [id]) // prettier-ignore
  const machine = await sql<{ code: string }>(service, 'select code from security_event where request_id = $1', [id])
  return { ledger, machine: machine.map(({ code }) => code) }
}
const inLedger = (action: string, code: string): Noted => ({ ledger: [{ action, outcome: 'refused', code }], machine: [] }) // prettier-ignore
const inMachine = (code: string): Noted => ({ ledger: [], machine: [code] })

describe('a refusal', () => {
  it('of a member who asks for what is a team’s is in the clinic’s log', async () => {
    const urls = ['/v1/team/squad', '/v1/team/reports', `/v1/team/reports/${NOBODY}`]
    for (const [n, url] of urls.entries()) {
      const answer = await service.api(tokens.owner).get(url, { headers: PURPOSE })
      expect([answer.status, await noted(answer)]).toEqual([403, inLedger(TEAM_ACTIONS[n]!, 'forbidden')])
    }
  })

  it('of a team that asks for what is a clinic’s is in the log of the machine, whatever the route', async () => {
    for (const route of routes.filter(({ name }) => name !== 'GET /v1/me')) {
      const answer = await call(service, ids.teamToken, route, ids, { ifMatch: '"1"' })
      expect([route.name, answer.status, await noted(answer)]).toEqual([route.name, 403, inMachine('forbidden')])
    }
  })

  it('of a team’s own pull is in the log of the machine, since it reached no clinic', async () => {
    const api = service.api(ids.teamToken)
    const refused: readonly (readonly [string, number, Promise<Answer>])[] = [
      ['purpose_required', 400, api.get('/v1/team/squad')],
      ['purpose_not_agreed', 403, api.get('/v1/team/squad', { headers: { Purpose: 'marketing' } })],
      ['invalid_query', 400, api.get('/v1/team/reports?limit=soon', { headers: PURPOSE })],
      ['not_found', 404, api.get(`/v1/team/reports/${NOBODY}`, { headers: PURPOSE })],
    ]
    for (const [code, status, answer] of refused)
      expect([(await answer).status, await noted(await answer)]).toEqual([status, inMachine(code)])
  })
})

describe('a refusal over GraphQL', () => {
  const OPERATION = 'graphql.operation'
  const ask = (query: string, variables = {}, headers = {}) => asker(service, tokens.clinician)(query, variables, headers) // prettier-ignore

  it('of an operation that is not run is in the clinic’s log', async () => {
    const post = (bytes: string, headers = {}) => service.api(tokens.clinician).post('/graphql', undefined, { key: null, bytes, headers }) // prettier-ignore
    const refused: readonly (readonly [string, number, Promise<Answer>])[] = [
      ['invalid_graphql', 400, ask('{ nobodyKnows }')],
      ['invalid_graphql', 400, ask('{ subjects { ')],
      ['invalid_graphql', 400, ask('query($id: ID!) { subject(id: $id) { id } }')],
      ['invalid_graphql', 400, ask('subscription { sessionStored { id } }')],
      ['query_too_costly', 400, ask('{ subjects(first: 200) { edges { node { id episodes { id readiness { overall } } sessions(first: 5) { edges { node { id } } } } } } }')], // prettier-ignore
      ['duplicate_key', 400, post('{"query":"{ me { role } }","query":"{ me { role } }"}')],
      ['too_large', 413, post(JSON.stringify({ query: `{ me { role } } #${'x'.repeat(1_100_000)}` }))],
      ['unsupported_media_type', 415, post('{ me { role } }', { 'content-type': 'application/graphql' })],
      ['method_not_allowed', 405, service.api(tokens.clinician).get(`/graphql?query=${encodeURIComponent('mutation { createSubject(document: { sex: female }, idempotencyKey: "k") { id } }')}`)], // prettier-ignore
    ]
    for (const [code, status, answer] of refused)
      expect([code, (await answer).status, await noted(await answer)]).toEqual([code, status, inLedger(OPERATION, code)]) // prettier-ignore
  })

  it('of a purpose that is no word is in the clinic’s log once, however many fields it refuses', async () => {
    const answer = await ask('{ a: subjects { edges { cursor } } b: sessions { edges { cursor } } }', {}, { Purpose: 'who plays on Sunday' }) // prettier-ignore
    expect(answer.body.errors).toHaveLength(2)
    expect(await noted(answer)).toEqual(inLedger(OPERATION, 'malformed_request'))
  })

  it('of a field is of the action that the field is, and not written a second time', async () => {
    const answer = await ask('query($id: ID!) { subject(id: $id) { id } }', { id: NOBODY })
    expect(await noted(answer)).toEqual(inLedger('subjects.read', 'not_found'))
  })

  it('of a team, or of a member in the place of one, is written down as over REST', async () => {
    const ofTeam = await asker(service, ids.teamToken)('{ subjects { edges { cursor } } }', {}, PURPOSE)
    expect(await noted(ofTeam)).toEqual(inMachine('forbidden'))
    const withoutPurpose = await asker(service, ids.teamToken)('{ team { squad { asOf } } }')
    expect(await noted(withoutPurpose)).toEqual(inMachine('purpose_required'))
    expect(await noted(await ask('{ team { squad { asOf } } }', {}, PURPOSE))).toEqual(inLedger(OPERATION, 'forbidden'))
  })
})

describe('a fault of ours', () => {
  it('is in the log of the clinic as failed, over REST and over GraphQL, and nothing is shown', async () => {
    await sql(service, 'revoke select on subject_version from limb_ledger_app')
    const rest = await service.api(tokens.owner).get(`/v1/subjects/${ids.subjectId}`)
    const graphql = await asker(service, tokens.owner)('query($id: ID!) { subject(id: $id) { id sex } }', { id: ids.subjectId }) // prettier-ignore
    await sql(service, 'grant select on subject_version to limb_ledger_app')
    expect([rest.status, graphql.body.errors?.[0]?.extensions.problem.code]).toEqual([500, 'internal'])
    for (const answer of [rest, graphql]) {
      expect(answer.text).not.toContain(ids.world.number)
      const { ledger, machine } = await noted(answer)
      expect([ledger.map(({ outcome }) => outcome), machine]).toEqual([['failed'], []])
    }
  })
})
