import { beforeAll, describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { testedSubject, type TestedSubject } from '../../harness/tested-subject.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
let tested: TestedSubject
let document: LooseDocument
let pushed: LooseDocument
let url: string
beforeAll(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
  tested = await testedSubject(service, clinic)
  document = tested.visit('2026-11-17')
  pushed = (await tested.push(document)).body
  url = `/v1/sessions/${pushed.session.id}/sets`
})

const csv = { headers: { accept: 'text/csv' } }

describe('GET /v1/sessions/{id}/sets/{key}/recording', () => {
  it('gives back every sample that was pushed, under the hash that the results name', async () => {
    const { status, headers, body } = await api.get(`${url}/right-60/recording`)
    expect(status).toBe(200)
    const [torque, angle, velocity] = document.sets[2].recording.channels
    expect(body).toMatchObject({
      sessionId: pushed.session.id,
      version: 1,
      set: 'right-60',
      side: 'right',
      header: { sampleCount: torque.values.length, sampleRateHz: 200, torquePositive: 'extension', torqueState: 'measured' }, // prettier-ignore
      sampleRate: { value: 200, unit: 'Hz' },
      channels: [
        { name: 'torque', unit: 'N.m', values: torque.values },
        { name: 'angle', unit: 'deg', values: angle.values },
        { name: 'velocity', unit: 'deg/s', values: velocity.values },
      ],
    })
    const result = pushed.results.find((one: LooseDocument) => one.set === 'right-60')
    expect(body.sha256).toBe(result.method.recordingSha256)
    expect(headers).toMatchObject({ 'recording-sha256': body.sha256, vary: 'Accept', 'cache-control': 'no-store' })
  })

  it('is CSV where that is asked for: the very numbers that were pushed as CSV', async () => {
    const { status, headers, text } = await api.get(`${url}/left-60/recording`, csv)
    expect(status).toBe(200)
    expect(headers['content-type']).toMatch(/^text\/csv/)
    const rows = (lines: string) => lines.trimEnd().split('\n').slice(1).map((line) => line.split(',').map(Number)) // prettier-ignore
    expect(text.split('\n', 1)[0]).toBe('time (s),torque (N.m),angle (deg)')
    expect(rows(text)).toEqual(rows(document.sets[0].recording.csv))
    const withVelocity = await api.get(`${url}/right-60/recording`, csv)
    expect(withVelocity.text.split('\n', 1)[0]).toBe('time (s),torque (N.m),angle (deg),velocity (deg/s)')
    expect(withVelocity.text.split('\n').slice(1).join('\n')).toMatch(/^[-0-9.,e\n]+$/)
  })

  it.each([
    ['text/csv', 'text/csv'],
    ['TEXT/CSV;q=0.9, application/json;q=0.5', 'text/csv'],
    ['text/*, application/json;q=0.2', 'text/csv'],
    ['text/csv;q=0', 'application/json'],
    ['application/json, text/csv;q=0.5', 'application/json'],
    ['*/*', 'application/json'],
    ['image/png', 'application/json'],
  ])('Accept: %s gets %s', async (accept, type) => {
    const { headers } = await api.get(`${url}/left-60/recording`, { headers: { accept } })
    expect(headers['content-type']).toContain(type)
  })

  it('read back and pushed again is the same recording', async () => {
    const { body } = await api.get(`${url}/right-60/recording`)
    const again = tested.visit('2026-11-18', (copy) => {
      copy.sets[2].recording.channels = body.channels
      copy.sets[2].recording.sampleRate = body.sampleRate
    })
    const { results } = (await tested.push(again)).body
    const result = results.find((one: LooseDocument) => one.set === 'right-60')
    expect(result.method.recordingSha256).toBe(body.sha256)
  })

  it('of an earlier version of the session stays readable', async () => {
    const other = await testedSubject(service, clinic, 'RB-2')
    const first = (await other.push(other.visit('2026-11-17'))).body
    const amendment = other.visit('2026-11-17', (copy) => (copy.externalId.value = first.session.externalId.value))
    const at = `/v1/sessions/${first.session.id}`
    const amended = await api.post(`${at}/amendments`, { reason: 'The other file.', session: amendment }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect(amended.status, amended.text).toBe(200)
    const hashOf = async (query: string) => (await api.get(`${at}/sets/left-60/recording${query}`)).body.sha256
    expect(await hashOf('')).toBe(amended.body.results[0].method.recordingSha256)
    expect(await hashOf('?version=1')).toBe(first.results[0].method.recordingSha256)
    expect(await hashOf('')).not.toBe(await hashOf('?version=1'))
  })

  it('is an event of the audit log with subject and hash', async () => {
    const { body } = await service.api(clinic.tokens.assistant).get(`${url}/left-60/recording`)
    const { rows } = await withClient(
      service.database.adminUrl,
      (client) =>
      client.query('select action, outcome, subject_ids, resource_ids from audit_event where clinic_id = $1 and actor_principal_id = $2', [clinic.clinicId, clinic.principals.assistant]), // prettier-ignore
    )
    expect(rows).toEqual([
      {
        action: 'recordings.read',
        outcome: 'done',
        subject_ids: [tested.subjectId],
        resource_ids: [`session/${pushed.session.id}`, `recording/${body.sha256}`],
      },
    ])
  })

  it('is 404 for a set with reported values, a set that is not there, and a key that can be none', async () => {
    for (const key of ['left-180', 'left-61', 'left 60', '%2e%2e', '__proto__'])
      expect((await api.get(`${url}/${encodeURIComponent(key)}/recording`)).status).toBe(404)
  })

  it('refuses a version that is no number and a query it does not know', async () => {
    for (const query of ['version=0', 'version=1.5', 'format=csv'])
      expect((await api.get(`${url}/left-60/recording?${query}`)).status).toBe(400)
  })
})
