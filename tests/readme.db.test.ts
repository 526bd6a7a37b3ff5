import { describe, expect, it } from 'vitest'
import { freshClinic, makeTestService } from './harness/clinic.ts'
import { readme } from './harness/readme.ts'
import { testDatabase } from './harness/test-database.ts'

const [dynamometer, subject, episode, session, shown, ...more] = [...readme.matchAll(/```json\n([\s\S]*?)```/g)].map(
  ([, text]) => JSON.parse(text ?? '') as Record<string, unknown>,
)
const service = await makeTestService(await testDatabase())

describe('the worked request of the README', () => {
  it('is accepted as it stands, and answered as shown', async () => {
    expect(more).toEqual([])
    const { tokens } = await freshClinic(service)
    const owner = service.api(tokens.owner)
    const records = service.api(tokens.integration)
    expect((await owner.post('/v1/dynamometers', dynamometer)).status).toBe(201)
    expect((await records.post('/v1/subjects', subject)).status).toBe(201)
    expect((await records.post('/v1/episodes', episode)).status).toBe(201)
    const answer = await records.post('/v1/sessions', session)
    expect(answer.status, answer.text).toBe(201)
    expect(answer.body).toMatchObject(shown ?? { session: 'is shown' })
  })
})
