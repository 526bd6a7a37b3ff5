import { v7 as uuidv7 } from 'uuid'
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
let first: LooseDocument
let same: LooseDocument
let unstrapped: LooseDocument
beforeAll(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
  tested = await testedSubject(service, clinic)
  first = (await tested.push(tested.visit('2026-10-13'))).body
  same = (await tested.push(tested.visit('2026-11-10'))).body
  unstrapped = (await tested.push(tested.visit('2026-11-17', (document) => (document.setups[1].stabilisation.trunkStraps = 'none')))).body // prettier-ignore
})

const resultOf = (pushed: LooseDocument, set: string, movement = 'extension'): string =>
  pushed.results.find((result: LooseDocument) => result.set === set && result.movement === movement).id

const compare = (a: string, b: string) => api.get(`/v1/comparability?a=${a}&b=${b}`)

describe('GET /v1/comparability', () => {
  it('gives each measure that both results have a verdict of its own, with its reasons', async () => {
    const { status, body } = await compare(resultOf(first, 'right-60'), resultOf(unstrapped, 'right-60'))
    expect(status).toBe(200)
    expect(body.acrossLimbs).toBe(false)
    expect(body.measures.map((one: LooseDocument) => one.measure)).toEqual(
      expect.arrayContaining(['peakTorque', 'angleOfPeakTorque', 'torqueAtAngle', 'workPerRepetition']),
    )
    expect(body.measures.map((one: LooseDocument) => one.measure)).not.toContain('rateOfTorqueDevelopment')
    for (const { verdict, reasons } of body.measures) {
      expect(verdict).toBe('not_comparable')
      expect(reasons).toContainEqual(expect.objectContaining({ factor: 'trunk_straps', effect: 'not_comparable', before: 'both', now: 'none' })) // prettier-ignore
    }
  })

  it('says of the same setup the same as the answer to the push did', async () => {
    const { body } = await compare(resultOf(first, 'right-60'), resultOf(same, 'right-60'))
    const pushed = same.comparability.find(
      (one: LooseDocument) => one.with === 'previous' && one.set === 'right-60' && one.movement === 'extension',
    )
    expect(Object.fromEntries(body.measures.map((one: LooseDocument) => [one.measure, one.verdict]))).toEqual(pushed.verdicts) // prettier-ignore
    expect(body.measures[0].verdict).not.toBe('not_comparable')
  })

  it('names the earlier test "before", whichever way it is asked', async () => {
    const [a, b] = [resultOf(first, 'right-60'), resultOf(unstrapped, 'right-60')]
    const asked = await compare(a, b)
    expect((await compare(b, a)).body).toEqual(asked.body)
    expect(asked.body.before).toEqual({
      resultId: a,
      sessionId: first.session.id,
      startedAt: '2026-10-13T09:05:00+01:00',
      set: 'right-60',
      side: 'right',
      joint: 'knee',
      movement: 'extension',
      contractionMode: 'isokinetic_concentric',
      contractionScheme: 'reciprocal',
      velocity: { value: 60, unit: 'deg/s' },
      origin: 'computed',
      state: 'final',
      computeVersion: expect.any(String),
    })
    expect(asked.body.now).toMatchObject({ resultId: b, sessionId: unstrapped.session.id })
  })

  it('of two limbs mirrors one setup, and says the same of peak torque as the symmetry of the push', async () => {
    const { body } = await compare(resultOf(unstrapped, 'left-60'), resultOf(unstrapped, 'right-60'))
    expect(body.acrossLimbs).toBe(true)
    const peak = body.measures.find((one: LooseDocument) => one.measure === 'peakTorque')
    const symmetry = unstrapped.symmetry.find((one: LooseDocument) => one.movement === 'extension' && one.velocity.value === 60) // prettier-ignore
    expect(peak).toEqual({ measure: 'peakTorque', verdict: symmetry.setupsMatch, reasons: symmetry.reasons })
    expect(peak.reasons.map((one: LooseDocument) => one.factor)).toContain('trunk_straps')
  })

  it('of two directions or two velocities says that they are not the same test', async () => {
    const flexion = await compare(resultOf(first, 'right-60'), resultOf(first, 'right-60', 'flexion'))
    expect(flexion.body.measures[0].verdict).toBe('not_comparable')
    const faster = await compare(resultOf(first, 'right-60'), resultOf(first, 'right-180'))
    const [peak] = faster.body.measures
    expect(peak.verdict).toBe('not_comparable')
    expect(peak.reasons.map((one: LooseDocument) => one.factor)).toContain('velocity')
  })

  it('is an event of the audit log with both results', async () => {
    const [a, b] = [resultOf(first, 'left-60'), resultOf(same, 'left-60')]
    await service.api(clinic.tokens.assistant).get(`/v1/comparability?a=${a}&b=${b}`)
    const { rows } = await withClient(
      service.database.adminUrl,
      (client) =>
      client.query('select action, subject_ids, resource_ids from audit_event where clinic_id = $1 and actor_principal_id = $2', [clinic.clinicId, clinic.principals.assistant]), // prettier-ignore
    )
    expect(rows).toEqual([
      { action: 'comparability.read', subject_ids: [tested.subjectId], resource_ids: [`result/${a}`, `result/${b}`] },
    ])
  })

  it('refuses results of two subjects, and the log names both', async () => {
    const other = await testedSubject(service, clinic, 'RB-2')
    const theirs = (await other.push(other.visit('2026-11-12'))).body
    const owner = service.api(clinic.tokens.owner)
    const answer = await owner.get(`/v1/comparability?a=${resultOf(first, 'left-60')}&b=${resultOf(theirs, 'left-60')}`)
    expect(answer.body).toMatchObject({ status: 400, code: 'invalid_query', errors: [{ pointer: '#/query/b' }] })
    const { rows } = await withClient(
      service.database.adminUrl,
      (client) =>
      client.query(`select outcome, subject_ids from audit_event where clinic_id = $1 and actor_principal_id = $2 and action = 'comparability.read'`, [clinic.clinicId, clinic.principals.owner]), // prettier-ignore
    )
    expect(rows).toEqual([{ outcome: 'refused', subject_ids: [tested.subjectId, other.subjectId] }])
  })

  it('refuses a query with no second result, with no id, or with more than it knows', async () => {
    const id = resultOf(first, 'left-60')
    for (const query of [`a=${id}`, `a=${id}&b=7`, `a=${id}&b=${id}&measure=peakTorque`])
      expect((await api.get(`/v1/comparability?${query}`)).status).toBe(400)
  })

  it("answers 422 for a result that is not there, and byte for byte the same for another clinic's", async () => {
    const elsewhere = await freshClinic(service)
    const they = await testedSubject(service, elsewhere)
    const foreign = resultOf((await they.push(they.visit('2026-11-12'))).body, 'left-60')
    const seen = ({ status, text }: { status: number; text: string }) => ({ status, text: text.replace(/"requestId":"[^"]+"/, '') }) // prettier-ignore
    const id = resultOf(first, 'left-60')
    const absent = await compare(id, uuidv7())
    expect(absent.body).toMatchObject({ status: 422, code: 'reference_not_found', errors: [{ pointer: '#/query/b' }] })
    expect(seen(await compare(id, foreign))).toEqual(seen(absent))
    expect((await compare(foreign, id)).body.errors).toMatchObject([{ pointer: '#/query/a' }])
  })

  it('is 401 without a token and 403 for an auditor', async () => {
    const query = `/v1/comparability?a=${resultOf(first, 'left-60')}&b=${resultOf(same, 'left-60')}`
    expect((await service.api(null).get(query)).status).toBe(401)
    expect((await service.api(clinic.tokens.auditor).get(query)).status).toBe(403)
  })
})
