import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import {
  freshClinic,
  freshTeam,
  makeTestService,
  type Answer,
  type Api,
  type FreshClinic,
} from '../../harness/clinic.ts'
import { testedSubject } from '../../harness/tested-subject.ts'
import { testDatabase } from '../../harness/test-database.ts'

/** What every address that reads one record back refuses, and how. */
const service = await makeTestService(await testDatabase())
let mine: FreshClinic
let theirs: FreshClinic
const ids: Record<Kind, string> = { subject: '', episode: '', session: '', result: '', flag: '' }

type Kind = 'subject' | 'episode' | 'session' | 'result' | 'flag'

const observation = { key: 'on_field_rehabilitation', value: 'completed', observedOn: '2025-11-20' }
const resolution = { status: 'confirmed', reason: 'Looked at.' }

const CALLS: readonly (readonly [what: string, kind: Kind, call: (api: Api, id: string) => Promise<Answer>])[] = [
  ['GET the flags of a session', 'session', (api, id) => api.get(`/v1/sessions/${id}/flags`)],
  ['GET the results of a session', 'session', (api, id) => api.get(`/v1/sessions/${id}/results`)],
  ['GET a recording', 'session', (api, id) => api.get(`/v1/sessions/${id}/sets/left-60/recording`)],
  ['GET a result', 'result', (api, id) => api.get(`/v1/results/${id}`)],
  ['GET the series of a subject', 'subject', (api, id) => api.get(`/v1/subjects/${id}/series`)],
  ['GET observations', 'episode', (api, id) => api.get(`/v1/episodes/${id}/observations`)],
  ['POST an observation', 'episode', (api, id) => api.post(`/v1/episodes/${id}/observations`, observation)],
  ['POST an observation with faults', 'episode', (api, id) => api.post(`/v1/episodes/${id}/observations`, { a: 1 })],
  ['POST a resolution with faults', 'flag', (api, id) => api.post(`/v1/flags/${id}/resolution`, { a: 1 })],
  ['POST a resolution', 'flag', (api, id) => api.post(`/v1/flags/${id}/resolution`, resolution)],
]

beforeAll(async () => {
  mine = await freshClinic(service)
  theirs = await freshClinic(service)
  const tested = await testedSubject(service, theirs)
  const { body } = await tested.push(tested.visit('2026-11-17'))
  Object.assign(ids, {
    subject: tested.subjectId,
    episode: tested.episodeId,
    session: body.session.id,
    result: body.results[0].id,
    flag: body.flags[0].id,
  })
})

/** What a client can see of an answer, without what differs between any two answers. */
function seen({ status, headers, text }: Answer): unknown {
  const { date: _, 'x-request-id': __, ...rest } = headers
  return { status, rest, text: text.replace(/"requestId":"[0-9a-f-]{36}"/, '"requestId":""') }
}

describe.each(CALLS)('%s', (what, kind, call) => {
  it("of another clinic is answered byte for byte as if it did not exist, and as 404 for what can't be an id", async () => {
    const api = service.api(mine.tokens.clinician)
    const foreign = await call(api, ids[kind])
    expect(foreign.status).toBe(404)
    expect(seen(foreign)).toEqual(seen(await call(api, uuidv7())))
    expect(seen(foreign)).toEqual(seen(await call(api, '7')))
  })

  it('is 401 without a token, and 403 for an auditor and for a team, whether it is there or not', async () => {
    const team = await freshTeam(service)
    for (const id of [ids[kind], uuidv7()]) {
      expect((await call(service.api(null), id)).status).toBe(401)
      expect((await call(service.api(theirs.tokens.auditor), id)).status).toBe(403)
      expect((await call(service.api(team.token), id)).status).toBe(403)
    }
  })

  it('of its own clinic is there, so that the tests above mean something', async () => {
    const { status } = await call(service.api(theirs.tokens.clinician), ids[kind])
    expect(status).toBe(what.endsWith('with faults') ? 400 : what.startsWith('POST') ? 201 : 200)
  })
})
