import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { createSubject, episodeBody, idOf } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
let subjectId: string
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
  subjectId = await createSubject(api)
})

describe('success: an episode', () => {
  it('is answered as it was written, with what the service adds', async () => {
    const answer = await api.post('/v1/episodes', episodeBody(subjectId))
    const id = idOf(answer)
    expect(answer.headers).toMatchObject({ location: `/v1/episodes/${id}`, etag: '"1"' })
    expect(answer.body).toMatchObject({ ...episodeBody(subjectId), id, subjectId, version: 1, status: 'active' })
    const read = await api.get(`/v1/episodes/${id}`)
    expect(read.body).toEqual(answer.body)
    expect((await api.get(`/v1/subjects/${subjectId}/episodes`)).body.items).toEqual([answer.body])
  })

  it('points at its subject by identifier', async () => {
    const subject = { identifier: { system: 'https://clinic.example/record-number', value: 'RB-20417' } }
    const { body } = await api.post('/v1/episodes', { ...episodeBody(subjectId), subject })
    expect(body).toMatchObject({ subjectId, subject })
  })

  it('with the same external id and content is the same episode, whatever the key and the order of its words', async () => {
    const id = idOf(await api.post('/v1/episodes', episodeBody(subjectId)))
    const turned = Object.fromEntries(Object.entries(episodeBody(subjectId)).reverse())
    const again = await api.post('/v1/episodes', turned)
    expect(again.status).toBe(200)
    expect(again.body.id).toBe(id)
    expect((await api.get(`/v1/subjects/${subjectId}/episodes`)).body.items).toHaveLength(1)
  })

  it('is edited into a new version; every version stays readable with who and when', async () => {
    const id = idOf(await api.post('/v1/episodes', episodeBody(subjectId)))
    const owner = service.api(clinic.tokens.owner)
    const edited = await owner.put(`/v1/episodes/${id}`, { ...episodeBody(subjectId), status: 'completed' }, '"1"')
    expect(edited.status).toBe(200)
    expect(edited.headers.etag).toBe('"2"')
    const { body } = await api.get(`/v1/episodes/${id}/versions`)
    expect(body.items).toMatchObject([
      { version: 1, status: 'active', recordedBy: clinic.principals.clinician },
      { version: 2, status: 'completed', recordedBy: clinic.principals.owner, supersededAt: null },
    ])
    expect(body.items[0].supersededAt).toBe(body.items[1].recordedAt)
  })
})

describe('400', () => {
  it.each([
    ['surgery before injury', { surgeryOn: '2026-01-01' }, '#/surgeryOn'],
    ['a joint we do not know', { joint: 'jaw' }, '#/joint'],
    ['no involved side', { involvedSide: undefined }, '#/involvedSide'],
    [
      'four primary measures',
      { primaryMeasures: Array(4).fill(episodeBody('x').primaryMeasures[0]) },
      '#/primaryMeasures',
    ],
    [
      'two ways to point at one subject',
      { subject: { id: uuidv7(), identifier: { system: 'a', value: 'b' } } },
      '#/subject',
    ],
    ['no way to point at a subject', { subject: {} }, '#/subject'],
    ['a field we do not know', { surgeon: 'x' }, '#/surgeon'],
    ['a precaution on a movement of another joint, which would never hold', { precautions: [{ kind: 'earliest_week', week: 12, movement: 'plantar_flexion', setBy: 'surgeon' }] }, '#/precautions/0/movement'], // prettier-ignore
    ['a range limit upside down', { precautions: [{ kind: 'range_limit', lowest: { value: 90, unit: 'deg' }, highest: { value: 0.7, unit: 'rad' }, setBy: 'surgeon' }] }, '#/precautions/0/highest'], // prettier-ignore
    ['a primary measure of another joint', { primaryMeasures: [{ ...episodeBody('x').primaryMeasures[0], movement: 'plantar_flexion' }] }, '#/primaryMeasures/0/movement'], // prettier-ignore
  ])('refuses %s', async (_what, change, pointer) => {
    const answer = await api.post('/v1/episodes', { ...episodeBody(subjectId), ...change })
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer }])
  })
})

describe('401, 403, 404', () => {
  it('401 without a token', async () => {
    for (const url of [
      `/v1/episodes/${uuidv7()}`,
      `/v1/episodes/${uuidv7()}/versions`,
      `/v1/subjects/${subjectId}/episodes`,
    ])
      expect((await service.api(null).get(url)).status).toBe(401)
    expect((await service.api(null).post('/v1/episodes', episodeBody(subjectId))).status).toBe(401)
  })

  it('403 for an auditor, and for an assistant who would edit', async () => {
    const id = idOf(await api.post('/v1/episodes', episodeBody(subjectId)))
    const auditor = service.api(clinic.tokens.auditor)
    for (const url of [`/v1/episodes/${id}`, `/v1/episodes/${id}/versions`, `/v1/subjects/${subjectId}/episodes`])
      expect((await auditor.get(url)).status).toBe(403)
    const edit = await service.api(clinic.tokens.assistant).put(`/v1/episodes/${id}`, episodeBody(subjectId), '"1"')
    expect(edit.status).toBe(403)
  })

  it('404 for what does not exist', async () => {
    for (const url of [`/v1/episodes/${uuidv7()}`, `/v1/episodes/none/versions`, `/v1/subjects/${uuidv7()}/episodes`])
      expect((await api.get(url)).status).toBe(404)
  })
})

describe('409', () => {
  it('is what other content under the same external id gets, with where it differs and no value of it', async () => {
    const id = idOf(await api.post('/v1/episodes', episodeBody(subjectId)))
    const answer = await api.post('/v1/episodes', {
      ...episodeBody(subjectId),
      condition: 'meniscal tear',
      involvedSide: 'left',
    })
    expect(answer.status).toBe(409)
    expect(answer.body).toMatchObject({ code: 'external_id_conflict', id })
    expect(answer.body.differs.sort()).toEqual(['#/condition', '#/involvedSide'])
    expect(answer.text).not.toContain('meniscal')
  })
})

describe('422', () => {
  it.each([
    ['a subject', { subject: { id: uuidv7() } }, '#/subject'],
    ['a subject by identifier', { subject: { identifier: { system: 'x', value: 'y' } } }, '#/subject'],
    ['a baseline session', { baselineSession: { id: uuidv7() } }, '#/baselineSession'],
    ['a criteria set', { criteriaSet: { key: 'no-such-set', version: 1 } }, '#/criteriaSet'],
  ])('is what a reference to %s that does not exist gets', async (_what, change, pointer) => {
    const answer = await api.post('/v1/episodes', { ...episodeBody(subjectId), ...change })
    expect(answer.status).toBe(422)
    expect(answer.body).toMatchObject({ code: 'reference_not_found', errors: [{ pointer }] })
    expect((await api.get(`/v1/subjects/${subjectId}/episodes`)).body.items).toEqual([])
  })
})

describe('428 and 412', () => {
  it('guard the edit', async () => {
    const id = idOf(await api.post('/v1/episodes', episodeBody(subjectId)))
    expect((await api.put(`/v1/episodes/${id}`, episodeBody(subjectId), null)).status).toBe(428)
    expect((await api.put(`/v1/episodes/${id}`, episodeBody(subjectId), '"3"')).status).toBe(412)
  })
})
