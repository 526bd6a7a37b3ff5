import { v7 as uuidv7 } from 'uuid'
import { describe, expect, it } from 'vitest'
import { freshClinic, makeTestService, type Answer, type Api } from '../../harness/clinic.ts'
import {
  calibrationBody,
  createSubject,
  dynamometerBody,
  episodeBody,
  idOf,
  subjectBody,
} from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())

const mine = await freshClinic(service)
const theirs = await freshClinic(service)
const me = service.api(mine.tokens.clinician)
const them = service.api(theirs.tokens.clinician)
const theirSubject = await createSubject(them)
const theirEpisode = idOf(await them.post('/v1/episodes', episodeBody(theirSubject)))
const theirMachine = idOf(await them.post('/v1/dynamometers', dynamometerBody()))

type Call = (api: Api, id: string, key: string) => Promise<Answer>
const CALLS: readonly (readonly [what: string, id: string, call: Call])[] = [
  ['GET a subject', theirSubject, (api, id) => api.get(`/v1/subjects/${id}`)],
  ['PUT a subject', theirSubject, (api, id) => api.put(`/v1/subjects/${id}`, subjectBody('RB-1'), '"1"')],
  [
    'PUT a subject without If-Match',
    theirSubject,
    (api, id) => api.put(`/v1/subjects/${id}`, subjectBody('RB-1'), null),
  ],
  ['PUT a subject with faults', theirSubject, (api, id) => api.put(`/v1/subjects/${id}`, { nonsense: 1 }, '"1"')],
  ['GET the episodes of a subject', theirSubject, (api, id) => api.get(`/v1/subjects/${id}/episodes`)],
  ['GET an episode', theirEpisode, (api, id) => api.get(`/v1/episodes/${id}`)],
  ['GET the versions of an episode', theirEpisode, (api, id) => api.get(`/v1/episodes/${id}/versions`)],
  ['PUT an episode', theirEpisode, (api, id) => api.put(`/v1/episodes/${id}`, episodeBody(theirSubject), '"1"')],
  ['GET a dynamometer', theirMachine, (api, id) => api.get(`/v1/dynamometers/${id}`)],
  ['PUT a dynamometer', theirMachine, (api, id) => api.put(`/v1/dynamometers/${id}`, dynamometerBody(), '"1"')],
  [
    'GET the calibration checks of a dynamometer',
    theirMachine,
    (api, id) => api.get(`/v1/dynamometers/${id}/calibration-checks`),
  ],
  ['POST a calibration check', theirMachine, (api, id, key) => api.post(`/v1/dynamometers/${id}/calibration-checks`, calibrationBody(), { key })], // prettier-ignore
]

/** What a client can see of an answer, without what differs between any two answers. */
function seen({ status, headers, text }: Answer): unknown {
  const rest = { ...headers }
  for (const name of ['date', 'x-request-id']) delete rest[name]
  return { status, rest, text: text.replace(/"requestId":"[0-9a-f-]{36}"/, '"requestId":""') }
}

describe("another clinic's record", () => {
  it.each(CALLS)('%s: is answered byte for byte as one that does not exist', async (_what, id, call) => {
    const foreign = await call(me, id, 'key-a')
    const absent = await call(me, uuidv7(), 'key-b')
    expect(foreign.status).toBe(404)
    expect(seen(foreign)).toEqual(seen(absent))
  })

  it.each(CALLS)('%s: is there for its own clinic, so that the test above means something', async (_what, id, call) => {
    const own = await call(them, id, uuidv7())
    expect(own.status).not.toBe(404)
  })

  it('as a reference in a document is answered as one that does not exist', async () => {
    const foreign = await me.post('/v1/episodes', episodeBody(theirSubject, 'C-1'))
    const absent = await me.post('/v1/episodes', episodeBody(uuidv7(), 'C-1'))
    expect(foreign.status).toBe(422)
    expect(foreign.body).toMatchObject({ code: 'reference_not_found', errors: [{ pointer: '#/subject' }] })
    expect(seen(foreign)).toEqual(seen(absent))
  })

  it('takes no identifier and no external id away from us', async () => {
    const subjectId = await createSubject(me)
    expect((await me.post('/v1/episodes', episodeBody(subjectId))).status).toBe(201)
    expect((await me.post('/v1/dynamometers', dynamometerBody())).status).toBe(201)
  })

  it('is in no list and found by no search', async () => {
    const own = await freshClinic(service)
    const api = service.api(own.tokens.clinician)
    for (const url of [
      '/v1/subjects',
      '/v1/dynamometers',
      '/v1/subjects?identifierSystem=https://clinic.example/record-number&identifierValue=RB-20417',
    ]) {
      const { status, body } = await api.get(url)
      expect(status).toBe(200)
      expect(body).toEqual({ items: [], nextCursor: null })
    }
  })

  it('cannot be reached by a cursor of its own clinic', async () => {
    await createSubject(them, 'RB-2')
    const { body } = await them.get('/v1/subjects?limit=1')
    const answer = await me.get(`/v1/subjects?cursor=${body.nextCursor}`)
    expect(answer.status).toBe(200)
    expect(answer.text).not.toContain(theirSubject)
  })
})
