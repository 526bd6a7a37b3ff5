import { beforeEach, describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic, type TestService } from '../../harness/clinic.ts'
import { createSubject, episodeBody, idOf } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const database = await testDatabase()
const service = await makeTestService(database)
let clinic: FreshClinic
let api: Api
let subjectId: string
let url: string
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
  subjectId = await createSubject(api)
  url = `/v1/episodes/${idOf(await api.post('/v1/episodes', episodeBody(subjectId)))}/observations`
})

const observation = (change: object = {}) => ({
  key: 'on_field_rehabilitation',
  value: 'completed',
  observedOn: '2025-11-20',
  note: 'Six weeks, the last two with full contact.',
  ...change,
})

describe('success: an observation', () => {
  it('is answered as it was written, with who and when, and read back', async () => {
    const answer = await api.post(url, observation())
    expect(answer.status).toBe(201)
    expect(answer.headers.location).toBe(url)
    expect(answer.body).toEqual({
      ...observation(),
      id: expect.any(String),
      episodeId: url.split('/')[3],
      state: 'final',
      recordedBy: clinic.principals.clinician,
      recordedAt: expect.any(String),
    })
    expect((await api.get(url)).body).toEqual({ items: [answer.body] })
  })

  it('with the same key and day takes the place of the older one, which stays readable', async () => {
    const first = (await api.post(url, observation({ value: 'not_completed' }))).body
    const second = (await api.post(url, observation())).body
    expect((await api.get(url)).body.items).toEqual([second, { ...first, state: 'superseded' }])
  })

  it('of another day or another key stands beside it, newest day first', async () => {
    const first = (await api.post(url, observation())).body
    const otherKey = (await api.post(url, observation({ key: 'subjective_form_within_reference', value: 'within_reference', observedOn: '2025-11-21' }))).body // prettier-ignore
    const otherDay = (await api.post(url, observation({ observedOn: '2025-11-22', note: undefined }))).body
    expect((await api.get(url)).body.items).toEqual([otherDay, otherKey, first])
    expect(otherDay).not.toHaveProperty('note')
  })

  it('given twice at once stands once', async () => {
    await Promise.all([api.post(url, observation()), api.post(url, observation({ value: 'not_completed' }))])
    const { items } = (await api.get(url)).body
    expect(items.map((item: { state: string }) => item.state).sort()).toEqual(['final', 'superseded'])
  })

  it('sent again with its key is one observation', async () => {
    const first = await api.post(url, observation(), { key: 'once' })
    expect((await api.post(url, observation(), { key: 'once' })).text).toBe(first.text)
    expect((await api.get(url)).body.items).toHaveLength(1)
  })

  it('decides the criterion that asks for it, from its day on', async () => {
    const readiness = async (on: string) => {
      const { body } = await api.get(`/v1/episodes/${url.split('/')[3]}/readiness?criteriaSet=kyritsis-2016&on=${on}`)
      return body.criteria.find((one: { key: string }) => one.key === 'on-field-rehabilitation').verdict
    }
    await api.post(url, observation())
    expect(await readiness('2025-11-20')).toBe('met')
    expect(await readiness('2025-11-19')).toBe('not_assessable')
    await api.post(url, observation({ value: 'not_completed' }))
    expect(await readiness('2025-11-20')).toBe('not_met')
  })

  it('is an event of the audit log with the subject, as is reading it', async () => {
    await api.post(url, observation())
    await api.get(url)
    const { rows } = await withClient(database.adminUrl, (client) =>
      client.query(
        `select action, subject_ids from audit_event where clinic_id = $1 and action like 'observations.%' order by ord`,
        [clinic.clinicId],
      ),
    )
    expect(rows).toEqual([
      { action: 'observations.create', subject_ids: [subjectId] },
      { action: 'observations.list', subject_ids: [subjectId] },
    ])
  })
})

describe('400', () => {
  it.each([
    ['a test that is measured', { key: 'single_hop_distance' }, '#/key'],
    ['a value that is no finding', { value: 'passed' }, '#/value'],
    ['a word that answers another question', { value: 'within_reference' }, '#/value'],
    ['a word that answers the first question alone', { key: 'subjective_form_within_reference' }, '#/value'],
    ['a day that is none', { observedOn: '2025-02-30' }, '#/observedOn'],
    ['a day with a time', { observedOn: '2025-11-20T10:00:00Z' }, '#/observedOn'],
    ['a day that has not come', { observedOn: '2199-01-01' }, '#/observedOn'],
    ['a note without a word', { note: '' }, '#/note'],
    ['a field we do not know', { by: 'me' }, '#/by'],
  ])('refuses %s', async (_what, change, pointer) => {
    const answer = await api.post(url, observation(change))
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer }])
    expect((await api.get(url)).body.items).toEqual([])
  })

  it('judges the day by the calendar of the clinic', async () => {
    // 23:30 UTC on the 24th: in Zurich the 25th has begun.
    const late: TestService = await makeTestService(database, { clock: () => new Date('2025-11-24T23:30:00Z') })
    const own = await freshClinic(late)
    const clinician = late.api(own.tokens.clinician)
    const episodeId = idOf(await clinician.post('/v1/episodes', episodeBody(await createSubject(clinician))))
    const at = `/v1/episodes/${episodeId}/observations`
    expect((await clinician.post(at, observation({ observedOn: '2025-11-25' }))).status).toBe(201)
    expect((await clinician.post(at, observation({ observedOn: '2025-11-26' }))).status).toBe(400)
  })
})

describe('403', () => {
  it.each(['owner', 'assistant', 'integration', 'auditor'] as const)('is what the role %s gets', async (role) => {
    expect((await service.api(clinic.tokens[role]).post(url, observation())).status).toBe(403)
  })
})
