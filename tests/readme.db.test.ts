import type { AddressInfo } from 'node:net'
import { GraphQLClient } from 'graphql-request'
import { beforeAll, describe, expect, it } from 'vitest'
import { freshClinic, makeTestService } from './harness/clinic.ts'
import { readme } from './harness/readme.ts'
import { testDatabase } from './harness/test-database.ts'

const [dynamometer, subject, episode, session, shown, told, ...more] = [
  ...readme.matchAll(/```json\n([\s\S]*?)```/g),
].map(([, text]) => JSON.parse(text ?? '') as Record<string, unknown>)
const service = await makeTestService(await testDatabase())

const [query = ''] = [...readme.matchAll(/```graphql\n([\s\S]*?)```/g)].map(([, text]) => text ?? '')
let clinicianToken: string
let variables: { subject: string; dynamometer: string }

beforeAll(async () => {
  const { tokens } = await freshClinic(service)
  clinicianToken = tokens.clinician
  const owner = service.api(tokens.owner)
  const records = service.api(tokens.integration)
  const machine = await owner.post<{ id: string }>('/v1/dynamometers', dynamometer)
  const person = await records.post<{ id: string }>('/v1/subjects', subject)
  expect([machine.status, person.status]).toEqual([201, 201])
  expect((await records.post('/v1/episodes', episode)).status).toBe(201)
  const answer = await records.post('/v1/sessions', session)
  expect(answer.status, answer.text).toBe(201)
  expect(answer.body).toMatchObject(shown ?? { session: 'is shown' })
  variables = { subject: person.body.id, dynamometer: machine.body.id }
})

describe('the worked documents of the README', () => {
  it('are accepted as they stand, and answered as shown', () => {
    expect(variables.subject).toBeDefined()
    expect(more).toEqual([])
  })

  it('the worked question is answered as shown, to a client from the registry', async () => {
    await service.app.listen({ host: '127.0.0.1', port: 0 })
    const { port } = service.app.server.address() as AddressInfo
    const headers = { authorization: `Bearer ${clinicianToken}` }
    const client = new GraphQLClient(`http://127.0.0.1:${port}/graphql`, { headers })
    const data = await client.request<Record<string, unknown>>(query, variables)
    expect(data).toMatchObject(told ?? { subject: 'is shown' })
  })
})
