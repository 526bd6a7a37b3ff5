import { beforeAll, describe, expect, it } from 'vitest'
import { COMPUTE_VERSION, DEFAULT_PARAMETERS, MEASURE_UNITS } from '../../../src/compute/index.ts'
import { canonicalSha256 } from '../../../src/domain/canonical-json.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { testedSubject, type TestedSubject } from '../../harness/tested-subject.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
let tested: TestedSubject
let pushed: LooseDocument
beforeAll(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
  tested = await testedSubject(service, clinic)
  pushed = (await tested.push(tested.visit('2026-11-17'))).body
})

const resultOf = (set: string, movement = 'extension'): LooseDocument =>
  pushed.results.find((result: LooseDocument) => result.set === set && result.movement === movement)

describe('GET /v1/results/{id}', () => {
  it('is the result of the push, with where every number comes from', async () => {
    const { repetitions, ...rest } = resultOf('right-60')
    const { status, body } = await api.get(`/v1/results/${rest.id}`)
    expect(status).toBe(200)
    expect(body).toMatchObject({
      ...rest,
      repetitions,
      subjectId: tested.subjectId,
      session: { id: pushed.session.id, version: 1, startedAt: '2026-11-17T09:05:00+01:00' },
      setup: { key: 'right-knee' },
      computeVersion: COMPUTE_VERSION,
      parameters: DEFAULT_PARAMETERS,
      parametersSha256: canonicalSha256(DEFAULT_PARAMETERS),
      bodyMass: { value: 68.4, unit: 'kg' },
      recordedAt: pushed.session.recordedAt,
    })
    expect(body.recordingSha256).toBe(body.method.recordingSha256)
    const { rows } = await withClient(service.database.adminUrl, (client) =>
      client.query('select id, key from setup where clinic_id = $1 and id = $2', [clinic.clinicId, body.setup.id]),
    )
    expect(rows).toEqual([{ id: body.setup.id, key: 'right-knee' }])
  })

  it('lists each repetition, counted or why not, and the best of them is the best of the set', async () => {
    const { body } = await api.get(`/v1/results/${resultOf('right-60').id}`)
    const { counted, notCounted, list } = body.repetitions
    expect(list.map((one: LooseDocument) => one.repetition)).toEqual([1, 2, 3, 4, 5])
    expect(list.filter((one: LooseDocument) => one.counted === 'yes')).toHaveLength(counted)
    expect(notCounted).toEqual([{ repetition: 2, reason: 'aborted' }])
    expect(list[1]).toMatchObject({ counted: 'no', reason: 'aborted' })
    const { best } = body.measures.peakTorque
    const peaks = list.filter((one: LooseDocument) => one.counted === 'yes').map((one: LooseDocument) => one.measures.peakTorque.value) // prettier-ignore
    expect(best.value).toBe(Math.max(...peaks))
    expect(list[best.repetition - 1].measures.peakTorque).toEqual({ value: best.value, unit: 'N.m' })
    for (const one of list) {
      for (const [name, measured] of Object.entries<LooseDocument>(one.measures)) {
        expect(measured.unit).toBe(MEASURE_UNITS[name as 'peakTorque'])
        expect(typeof measured.value === 'number' || typeof measured.reason === 'string').toBe(true)
      }
    }
  })

  it('of a reported value has no repetitions and no recording, and says of what was not reported that it was not', async () => {
    const { body } = await api.get(`/v1/results/${resultOf('right-180').id}`)
    expect(body).toMatchObject({
      origin: 'reported',
      recordingSha256: null,
      repetitions: { counted: null, list: [] },
      measures: { totalWork: { total: { value: null, reason: 'not_reported' } } },
    })
  })

  it('that an amendment replaced stays readable, as superseded, of its version', async () => {
    const other = await testedSubject(service, clinic, 'RB-2')
    const first = (await other.push(other.visit('2026-11-17'))).body
    const lighter = other.visit('2026-11-17', (document) => {
      document.externalId.value = first.session.externalId.value
      document.bodyMass.value = 64.8
    })
    const url = `/v1/sessions/${first.session.id}`
    const amended = await api.post(`${url}/amendments`, { reason: 'Two digits swapped.', session: lighter }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect(amended.status, amended.text).toBe(200)

    const old = (await api.get(`/v1/results/${first.results[0].id}`)).body
    expect(old).toMatchObject({ state: 'superseded', session: { version: 1 }, bodyMass: { value: 68.4 } })
    const inForce = (await api.get(`${url}/results`)).body
    expect(inForce).toMatchObject({ sessionId: first.session.id, version: 2 })
    expect(inForce.items).toEqual(amended.body.results)
    const before = (await api.get(`${url}/results?version=1`)).body
    expect(before.version).toBe(1)
    expect(before.items.map((item: LooseDocument) => item.id)).toEqual(first.results.map((item: LooseDocument) => item.id)) // prettier-ignore
    expect(before.items.every((item: LooseDocument) => item.state === 'superseded')).toBe(true)
    expect((await api.get(`${url}/results?version=3`)).status).toBe(404)
  })

  it('is an event of the audit log with the subject', async () => {
    const reader = service.api(clinic.tokens.owner)
    const { id } = resultOf('left-60', 'flexion')
    await reader.get(`/v1/results/${id}`)
    const { rows } = await withClient(service.database.adminUrl, (client) =>
      client.query(
        `select e.action, d.subject_id from audit_event e join audit_disclosure d on d.clinic_id = e.clinic_id and d.event_id = e.id
         where e.clinic_id = $1 and e.actor_principal_id = $2 and e.resource_ids ? $3`,
        [clinic.clinicId, clinic.principals.owner, `result/${id}`],
      ),
    )
    expect(rows).toEqual([{ action: 'results.read', subject_id: tested.subjectId }])
  })
})

describe('GET /v1/sessions/{id}/results', () => {
  it('is the results of the push in the order performed', async () => {
    const { status, body } = await api.get(`/v1/sessions/${pushed.session.id}/results`)
    expect(status).toBe(200)
    expect(body).toEqual({ sessionId: pushed.session.id, version: 1, items: pushed.results })
  })

  it('refuses a version that is no number and a query it does not know', async () => {
    for (const query of ['version=0', 'version=x', 'side=left'])
      expect((await api.get(`/v1/sessions/${pushed.session.id}/results?${query}`)).status).toBe(400)
  })
})

describe('GET /v1/subjects/{id}/series', () => {
  it('names each series with its sides and the measures it has a value of', async () => {
    const { status, body } = await api.get(`/v1/subjects/${tested.subjectId}/series`)
    expect(status).toBe(200)
    expect(body.items.map((one: LooseDocument) => [one.movement, one.velocity.value])).toEqual([
      ['extension', 60],
      ['extension', 180],
      ['flexion', 60],
      ['flexion', 180],
    ])
    const [recorded, reported] = body.items
    const visit = { tests: 1, firstAt: '2026-11-17T08:05:00.000Z', lastAt: '2026-11-17T08:05:00.000Z' }
    expect(reported).toEqual({
      joint: 'knee',
      movement: 'extension',
      contractionMode: 'isokinetic_concentric',
      contractionScheme: 'reciprocal',
      velocity: { value: 180, unit: 'deg/s' },
      sides: [
        { side: 'left', ...visit },
        { side: 'right', ...visit },
      ],
      measures: [
        { measure: 'peakTorque', statistics: ['best'] },
        { measure: 'peakTorquePerBodyMass', statistics: ['best'] },
      ],
    })
    const measures = new Map(recorded.measures.map((one: LooseDocument) => [one.measure, one]))
    expect(measures.get('peakTorque')).toEqual({ measure: 'peakTorque', statistics: ['best', 'mean', 'coefficientOfVariation'] }) // prettier-ignore
    expect(measures.get('totalWork')).toEqual({ measure: 'totalWork', statistics: ['total'] })
    expect(measures.has('rateOfTorqueDevelopment')).toBe(false)
    const at = resultOf('left-60').measures.torqueAtAngle as LooseDocument[]
    const angles = at.filter(({ best }) => best.value !== null).map(({ angle }) => angle)
    expect(angles.length).toBeGreaterThan(0)
    expect(measures.get('torqueAtAngle')).toMatchObject({ angles: expect.arrayContaining(angles) })
  })

  it('offers nothing of which the trend in the same words has no point', async () => {
    const { body } = await api.get(`/v1/subjects/${tested.subjectId}/series`)
    for (const one of body.items) {
      for (const { measure, statistics, angles } of one.measures) {
        for (const statistic of statistics.filter((s: string) => s !== 'coefficientOfVariation')) {
          const query = new URLSearchParams({
            joint: one.joint,
            movement: one.movement,
            contractionMode: one.contractionMode,
            contractionScheme: one.contractionScheme,
            velocity: `${one.velocity.value} deg/s`,
            measure,
            statistic,
            ...(angles === undefined ? {} : { angle: `${angles[0].value} deg` }),
          })
          const [left, right] = await Promise.all(
            one.sides.map(({ side }: LooseDocument) =>
              api.get(`/v1/subjects/${tested.subjectId}/trend?${query.toString()}&side=${side}`),
            ),
          )
          expect([left.status, right.status], `${query.toString()} ${left.text}`).toEqual([200, 200])
          expect(left.body.points.length + right.body.points.length, query.toString()).toBeGreaterThan(0)
        }
      }
    }
  })

  it('forgets a series when its only session is withdrawn', async () => {
    const other = await testedSubject(service, clinic, 'RB-3')
    const { body } = await other.push(other.visit('2026-11-18'))
    await api.post(`/v1/sessions/${body.session.id}/entered-in-error`, { reason: 'Other subject.' }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect((await api.get(`/v1/subjects/${other.subjectId}/series`)).body).toEqual({ items: [] })
  })
})
