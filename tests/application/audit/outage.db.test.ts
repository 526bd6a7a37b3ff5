import { describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { makeTestService, type Answer, type Api } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { calibrationBody, dynamometerBody, episodeBody, subjectBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, rowCounts, seriesQuery, type World } from '../sessions/documents.ts'

const database = await testDatabase()
const ledger = await makeTestLedger(database)
const service = await makeTestService(database, { ledger })

type Ask = (world: World, api: Api) => Promise<Answer>

/** One request of each kind that would show, change or refuse something, all of them good on an ordinary day. */
const KINDS: Readonly<Record<string, Ask>> = {
  'a read of a subject': ({ subjectId }, api) => api.get(`/v1/subjects/${subjectId}`),
  'a list': (_, api) => api.get('/v1/subjects'),
  'a find by identifier': (_, api) => api.get('/v1/subjects?identifierSystem=https://clinic.example/record-number&identifierValue=RB-1'), // prettier-ignore
  'a creation': (_, api) => api.post('/v1/subjects', subjectBody('new')),
  'an edit': ({ subjectId }, api) => api.put(`/v1/subjects/${subjectId}`, subjectBody('RB-1'), '"1"'),
  'an episode': ({ subjectId }, api) => api.post('/v1/episodes', episodeBody(subjectId, 'new')),
  'a machine': (_, api) => api.post('/v1/dynamometers', dynamometerBody('new')),
  'a calibration check': ({ dynamometerId }, api) => api.post(`/v1/dynamometers/${dynamometerId}/calibration-checks`, calibrationBody()), // prettier-ignore
  'a push': (world, api) => api.post('/v1/sessions', world.visit('2026-06-02')),
  'a dry run': (world, api) => api.post('/v1/calculations/session-check', world.visit('2026-06-02')),
  'a trend': ({ subjectId }, api) => api.get(`/v1/subjects/${subjectId}/trend?${seriesQuery({ side: 'right' })}`),
  'a symmetry': ({ subjectId }, api) => api.get(`/v1/subjects/${subjectId}/symmetry?${seriesQuery()}`),
  'a readiness': ({ episodeId }, api) => api.get(`/v1/episodes/${episodeId}/readiness?criteriaSet=kyritsis-2016`),
  'the work list': (_, api) => api.get('/v1/flags'),
  'a read of the log itself': (_, api) => api.get('/v1/audit/events'),
  'an export of the log': (_, api) => api.get('/v1/audit/export'),
  'a seal': (_, api) => api.post('/v1/audit/seal', {}),
  'a verification': (_, api) => api.post('/v1/audit/verification', {}),
  'an accounting of disclosures': ({ subjectId }, api) => api.get(`/v1/subjects/${subjectId}/disclosures`),
  'an export of a subject': ({ subjectId }, api) => api.get(`/v1/subjects/${subjectId}/export`),
  'an erasure': ({ subjectId }, api) => api.post(`/v1/subjects/${subjectId}/erasure`, { ground: 'subject_request', subjectId }), // prettier-ignore
  'a legal hold': ({ subjectId }, api) => api.post(`/v1/subjects/${subjectId}/legal-holds`, { reason: 'court' }),
  'a refusal of a role': ({ subjectId }) => Promise.resolve().then(() => asAuditor!.get(`/v1/subjects/${subjectId}`)),
  'a refusal of a query': (_, api) => api.get('/v1/subjects?limit=soon'),
  'a refusal of a body': (_, api) => api.post('/v1/subjects', { sex: 'none' }),
  'a refusal of an absent id': (_, api) => api.get('/v1/subjects/01a211e5-4feb-70a8-a310-4dbf8a987363'),
  'a refusal of a size': (_, api) => api.post('/v1/subjects', subjectBody('x'.repeat(70_000))),
}

let asAuditor: Api | null = null

async function brokenBy(breaking: string, mending: string, work: () => Promise<void>): Promise<void> {
  await withClient(database.adminUrl, (client) => client.query(breaking))
  try {
    await work()
  } finally {
    await withClient(database.adminUrl, (client) => client.query(mending))
  }
}

describe.each([
  [
    'may not be written',
    'revoke insert on audit_event from limb_ledger_app',
    'grant insert (clinic_id, id, at, actor_principal_id, actor_role, client, purpose, action, outcome, request_id, subject_ids, resource_ids, details) on audit_event to limb_ledger_app', // prettier-ignore
  ],
  [
    'refuses every row',
    `alter table audit_event add constraint broken check (false) not valid`,
    'alter table audit_event drop constraint broken',
  ],
])('while the audit log %s', (_, breaking, mending) => {
  it('every kind of request is answered with 503, shows nothing and stores nothing', async () => {
    const world = await makeWorld(service)
    asAuditor = service.api(world.clinic.tokens.auditor)
    const pushed = await world.pushVisit('2026-05-12')
    const secrets = [world.subjectId, world.episodeId, pushed.session.id as string, 'Example, Avery']
    const before = await rowCounts(service)
    await brokenBy(breaking, mending, async () => {
      for (const [kind, ask] of Object.entries(KINDS)) {
        const answer = await ask(world, world.owner)
        expect({ kind, status: answer.status }).toEqual({ kind, status: 503 })
        expect(answer.body).toMatchObject({ code: 'audit_unavailable', retry: 'after_delay' })
        expect(answer.headers['retry-after']).toBe('5')
        for (const secret of secrets) expect(answer.text).not.toContain(secret)
      }
    })
    expect(await rowCounts(service)).toEqual(before)
    // It was the log and nothing else: now each is answered.
    const served = await world.clinician.get(`/v1/subjects/${world.subjectId}`)
    expect(served.status).toBe(200)
  }, 120_000)
})
