import { describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { episodeBody, subjectBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeIds, type Ids } from '../../faces/rest/route-recipes.ts'
import { seriesQuery, type World } from '../sessions/documents.ts'
import { Journal, mulberry32, nobody, outcomeOf, type JournalEntry } from './journal.ts'

/** 600 in CI; LEDGER_JOURNAL=5000 for the long run. */
const REQUESTS = Number(process.env['LEDGER_JOURNAL'] ?? 600)
const AT_ONCE = 8
const SEED = 20261125

const database = await testDatabase()
const ledger = await makeTestLedger(database)
const service = await makeTestService(database, { ledger })

interface Player {
  readonly ids: Ids
  readonly world: World
  readonly apis: Readonly<Record<keyof FreshClinic['tokens'] | 'team', Api>>
  readonly ask: ReturnType<Journal['ask']>
  readonly sessionId: string
}

type Move = (player: Player, n: number, random: () => number) => Promise<unknown>

/** What people and machines send on a day like any other, mistakes included. */
const MOVES: readonly Move[] = [
  ({ apis, world }) => apis.clinician.get(`/v1/subjects/${world.subjectId}`),
  ({ apis }) => apis.assistant.get('/v1/subjects?limit=20'),
  ({ apis }, n) => apis.integration.post('/v1/subjects', subjectBody(`J-${n}`)),
  ({ apis }) => apis.integration.post('/v1/subjects', { ...subjectBody('J'), colour: 'blue' }),
  ({ apis }) => apis.integration.post('/v1/subjects', subjectBody('RB-1')),
  ({ apis }, n) => apis.integration.post('/v1/subjects', subjectBody(`K-${n}`), { key: null }),
  ({ apis }) => apis.clinician.post('/v1/subjects', subjectBody('kept'), { key: 'always-the-same' }),
  ({ apis }, n) => apis.clinician.post('/v1/subjects', subjectBody(`other-${n}`), { key: 'always-the-same' }),
  ({ apis }) => apis.assistant.post('/v1/subjects', subjectBody('x'.repeat(70_000))),
  ({ apis }) => apis.assistant.post('/v1/subjects', null, { bytes: '{"sex":"male","sex":"female"}' }),
  ({ apis }) => apis.assistant.post('/v1/subjects', {}, { headers: { 'content-type': 'text/plain' } }),
  ({ apis, world }) => apis.clinician.put(`/v1/subjects/${world.subjectId}`, subjectBody('RB-1'), '"999"'),
  ({ apis, world }) => apis.clinician.put(`/v1/subjects/${world.subjectId}`, subjectBody('RB-1'), null),
  ({ apis }) => apis.clinician.get(`/v1/subjects/${nobody()}`),
  ({ apis }) => apis.clinician.get('/v1/subjects/not-an-id'),
  ({ apis, world }) => apis.auditor.get(`/v1/subjects/${world.subjectId}`),
  ({ apis }) => apis.clinician.get('/v1/subjects?limit=soon'),
  ({ apis, world }, n) => apis.clinician.post('/v1/episodes', episodeBody(world.subjectId, `JC-${n}`)),
  ({ apis }) => apis.clinician.post('/v1/episodes', episodeBody(nobody(), 'none')),
  ({ apis, world }) => apis.clinician.get(`/v1/episodes/${world.episodeId}`),
  ({ apis, world }) => apis.clinician.get(`/v1/episodes/${world.episodeId}/readiness?criteriaSet=kyritsis-2016&on=2026-11-20`), // prettier-ignore
  ({ apis, sessionId }) => apis.clinician.get(`/v1/sessions/${sessionId}`),
  ({ apis, sessionId }) => apis.integration.get(`/v1/sessions/${sessionId}/results`),
  ({ apis, world }) => apis.clinician.get(`/v1/subjects/${world.subjectId}/trend?${seriesQuery({ side: 'right' })}`),
  ({ apis, world }) => apis.clinician.get(`/v1/subjects/${world.subjectId}/trend?joint=knee`),
  ({ apis, world }) => apis.clinician.get(`/v1/subjects/${world.subjectId}/symmetry?${seriesQuery()}`),
  ({ apis, world }, _, random) => apis.integration.post('/v1/sessions', world.visit(`2026-0${1 + Math.floor(random() * 8)}-12`)), // prettier-ignore
  ({ apis, world }) => apis.integration.post('/v1/calculations/session-check', world.visit('2026-09-01')),
  ({ apis, sessionId }) => apis.owner.post(`/v1/sessions/${sessionId}/entered-in-error`, { reason: 'x' }, { headers: { 'if-match': '"77"' } }), // prettier-ignore
  ({ apis }) => apis.owner.get('/v1/dynamometers'),
  ({ apis }) => apis.clinician.get('/v1/flags'),
  ({ apis }) => apis.clinician.get('/v1/me'),
  ({ apis }) => apis.clinician.get('/v1/code-lists'),
  ({ apis }) => apis.auditor.get('/v1/audit/events?limit=5'),
  ({ apis }) => apis.clinician.get('/v1/audit/events'),
  ({ apis }) => apis.owner.post('/v1/audit/seal', {}),
  ({ apis, world }) => apis.auditor.get(`/v1/subjects/${world.subjectId}/disclosures`),
  ({ apis }) => apis.auditor.get('/v1/audit/export?format=csv'),
  ({ apis }) => apis.clinician.get('/v1/subjects?limit=3', { headers: { purpose: 'rehabilitation-review' } }),
  ({ apis }) => apis.clinician.get('/v1/subjects', { headers: { purpose: 'who plays on Sunday' } }),
  ({ apis }) => apis.clinician.get('/v1/dynamometers/starter'),
  ({ apis }) => apis.team.get('/v1/team/squad', { headers: PULL }),
  ({ apis }) => apis.team.get('/v1/team/reports?limit=5', { headers: PULL }),
  ({ apis }) => apis.clinician.get('/v1/team/squad', { headers: PULL }),
  // One event for each use case that an operation calls; what it loads for many at once is one call.
  ({ ask }) => ask([], '{ me { role } }'),
  ({ ask, world }) => ask(['subjects.read done'], 'query($id: ID!) { subject(id: $id) { id sex } }', { id: world.subjectId }), // prettier-ignore
  ({ ask }) => ask(['subjects.read refused'], 'query($id: ID!) { subject(id: $id) { id } }', { id: nobody() }),
  ({ ask }) => ask(['subjects.list done', 'episodes.list done'], '{ subjects(first: 5) { edges { node { id episodes { id joint } } } } }'), // prettier-ignore
  ({ ask, world }) => ask(['episodes.read done', 'readiness.read done'], 'query($id: ID!) { episode(id: $id) { id readiness(criteriaSet: "kyritsis-2016", on: "2026-11-20") { overall } } }', { id: world.episodeId }), // prettier-ignore
  ({ ask, world }) => ask(['subjects.read done', 'sessions.list done', 'sessions.read done'], 'query($id: ID!) { subject(id: $id) { sessions(first: 3) { edges { node { session { results { id } } } } } } }', { id: world.subjectId }), // prettier-ignore
  ({ ask, world }) => ask(['subjects.read done', 'audit.read refused'], 'query($id: ID!) { subject(id: $id) { id } auditEvents(first: 2) { edges { cursor } } }', { id: world.subjectId }), // prettier-ignore
  ({ ask }, n) => ask(['subjects.create done', 'subjects.create refused'], MAKE_TWO, { good: { sex: 'female' }, bad: { sex: 'female', birthDate: 'never' }, k: `g-${n}`, l: `h-${n}` }), // prettier-ignore
  ({ ask }) => ask(['graphql.operation refused'], '{ nobodyKnows }'),
  ({ ask }) => ask(['graphql.operation refused'], '{ subjects(first: 200) { edges { node { id episodes { id readiness { overall } } sessions(first: 5) { edges { node { id } } } } } } }'), // prettier-ignore
]

const PULL = { purpose: 'availability-planning' }
const MAKE_TWO = 'mutation($good: SubjectInput!, $bad: SubjectInput!, $k: String!, $l: String!) { a: createSubject(document: $good, idempotencyKey: $k) { id } b: createSubject(document: $bad, idempotencyKey: $l) { id } }' // prettier-ignore

async function makePlayer(journal: Journal): Promise<Player> {
  const clinic = await freshClinic(service)
  const ids = await makeIds(service, clinic, 'RB-1')
  const tokens = Object.entries({ ...clinic.tokens, team: ids.teamToken })
  const apis = tokens.map(([role, token]) => [role, journal.follow(service.api(token), clinic.clinicId)])
  const ask = journal.ask(service, clinic.tokens.clinician, clinic.clinicId)
  return { ids, world: ids.world, apis: Object.fromEntries(apis) as Player['apis'], ask, sessionId: ids.sessionId }
}

/** Of each route, the action that its events are of. */
const ROUTES = Object.entries(service.app.swagger().paths ?? {}).flatMap(([path, item]) =>
  Object.entries(item ?? {}).map(([method, operation]) => {
    const { 'x-action': action, 'x-team-action': teamAction } = operation as Record<string, string>
    const address = new RegExp(`^${method.toUpperCase()} ${path.replaceAll(/\{\w+\}/g, '[^/?]+')}($|\\?)`)
    return { address, action: action ?? teamAction }
  }),
)
const actionOf = ({ request }: JournalEntry): string | undefined =>
  ROUTES.find(({ address }) => address.test(request))?.action

interface Logged {
  readonly requestId: string
  readonly outcome: string
  readonly action: string
}

async function logOf(clinicId: string): Promise<Logged[]> {
  return withClient(database.adminUrl, async (client) => {
    const { rows } = await client.query<Logged>(
      `select request_id as "requestId", outcome, action from audit_event where clinic_id = $1 order by ord`,
      [clinicId],
    )
    return rows
  })
}

describe(`${REQUESTS} mixed requests, ${AT_ONCE} at a time, to two clinics`, () => {
  const journal = new Journal()

  it(
    'are in the log of their clinic exactly once each, with what came of them, and nothing else is',
    async () => {
      const players = [await makePlayer(journal), await makePlayer(journal)]
      const before = new Map<string, number>()
      for (const { world } of players) before.set(world.clinic.clinicId, (await logOf(world.clinic.clinicId)).length)

      const random = mulberry32(SEED)
      const plan = Array.from({ length: REQUESTS }, (_, n) => ({
        n,
        // Each kind at least once, then as it comes.
        move: MOVES[n < MOVES.length ? n : Math.floor(random() * MOVES.length)]!,
        player: players[Math.floor(random() * players.length)]!,
      }))
      const workers = Array.from({ length: AT_ONCE }, async () => {
        for (let next = plan.shift(); next !== undefined; next = plan.shift())
          await next.move(next.player, next.n, random)
      })
      await Promise.all(workers)

      expect(journal.entries).toHaveLength(REQUESTS)
      // A seal may find another one at work for longer than it waits; nothing else is without an answer.
      const unanswered = journal.entries.filter(({ status }) => status >= 500)
      expect(unanswered.filter(({ request }) => request !== 'POST /v1/audit/seal')).toEqual([])
      for (const { world } of players) {
        const { clinicId } = world.clinic
        const logged = (await logOf(clinicId)).slice(before.get(clinicId))
        const inLog = Map.groupBy(logged, ({ requestId }) => requestId)
        const known = new Set([...journal.answered(clinicId), ...journal.unanswered(clinicId)].map((entry) => entry.requestId)) // prettier-ignore
        expect(logged.filter(({ requestId }) => !known.has(requestId))).toEqual([])
        const differing = journal.answered(clinicId).flatMap((entry) => {
          const events = (inLog.get(entry.requestId) ?? []).map(({ action, outcome }) => `${action} ${outcome}`).sort()
          const wanted = entry.events?.toSorted() ?? [`${actionOf(entry)} ${outcomeOf(entry)}`]
          return JSON.stringify(events) === JSON.stringify(wanted) ? [] : [{ ...entry, events, wanted }]
        })
        expect(differing).toEqual([])
      }
      const statuses = new Set(journal.entries.map(({ status }) => status))
      for (const status of [200, 201, 400, 403, 404, 409, 412, 413, 415, 422, 428])
        expect([...statuses]).toContain(status)
    },
    120_000 + REQUESTS * 200,
  )

  it('that are refused before it is known for whom are in the security log and in no clinic’s', async () => {
    const { assistant } = (await makePlayer(new Journal())).apis
    const packed = await assistant.post('/v1/subjects', {}, { headers: { 'content-encoding': 'gzip' } })
    const stranger = await service.api(null).get('/v1/subjects')
    expect([packed.status, stranger.status]).toEqual([415, 401])
    const ids = [packed, stranger].map((answer) => answer.headers['x-request-id'])
    const rows = await withClient(database.adminUrl, async (client) => {
      const { rows: noted } = await client.query<{ code: string; inLedger: boolean }>(
        `select s.code, exists (select from audit_event e where e.request_id = s.request_id) as "inLedger"
         from security_event s where s.request_id = any ($1) order by s.at`,
        [ids],
      )
      return noted
    })
    expect(rows).toEqual([
      { code: 'unsupported_media_type', inLedger: false },
      { code: 'no_bearer_token', inLedger: false },
    ])
  })

  it('leave a log that seals without remainder and verifies from the first entry to the last', async () => {
    const clinicIds = [...new Set(journal.entries.map(({ clinicId }) => clinicId))]
    for (const clinicId of clinicIds) {
      const { n, unsealed } = await withClient(database.adminUrl, async (client) => {
        const { sealNow } = await import('../../../src/ledger/sealer.ts')
        const sealed = await sealNow(ledger.sealerPool, clinicId, { ...ledger.deps, waitForLockMs: 20_000 }, 20_000)
        expect(sealed?.complete).toBe(true)
        const { rows } = await client.query<{ n: number; unsealed: number }>(
          `select count(*)::int as n, count(*) filter (where l.seq is null)::int as unsealed
           from audit_event e left join audit_leaf l on l.clinic_id = e.clinic_id and l.event_id = e.id
           where e.clinic_id = $1`,
          [clinicId],
        )
        return rows[0]!
      })
      expect(unsealed).toBe(0)
      expect(n).toBeGreaterThan(REQUESTS / 4)
    }
  }, 60_000)
})
