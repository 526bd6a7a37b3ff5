import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, nameBaseline, recorded, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
const url = (of = world) => `/v1/subjects/${of.subjectId}/reanalysis-preview`

const question = (more: object = {}) => ({
  joint: 'knee',
  side: 'left',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocity: { value: 60, unit: 'deg/s' },
  measure: 'peakTorque',
  statistic: 'best',
  ...more,
})
const preview = async (more: object = {}): Promise<LooseDocument> => {
  const answer = await world.clinician.post(url(), question(more), { key: null })
  expect(answer.status, answer.text).toBe(200)
  return answer.body
}

/** The very same torque curves at both visits; at the second a weighing that is far too heavy lifts the corrected torque. */
beforeAll(async () => {
  world = await makeWorld(service)
  const pairs = [100, 110, 120, 130, 140, 150, 160, 170, 180, 190].map((value, i) => ({
    first: { value, unit: 'N.m' },
    second: { value: value + (i % 2 === 0 ? 1 : -1), unit: 'N.m' },
  }))
  const error = { ...question(), side: undefined, statistic: undefined, scale: 'absolute', limbCondition: 'no_history', source: 'own clinic', pairs } // prettier-ignore
  expect((await world.owner.post('/v1/measurement-errors', error)).status).toBe(201)
  await world.push(recorded(world.visit('2026-06-02'), 3))
  const heavy = (document: LooseDocument) => void (document.setups[0].limbWeighing.torque.value = 26)
  await world.push(recorded(world.visit('2026-07-02', { change: heavy }), 3))
  await world.pushVisit('2026-08-02', { extension: { left: 230, right: 150 } })
})

describe('a history analysed again', () => {
  it('with the usual choices is what it was, and every change survives', async () => {
    const body = await preview()
    expect(body.points).toHaveLength(3)
    for (const point of body.points) expect(point.after).toEqual(point.before)
    const seen = body.points.map((point: LooseDocument) => [point.before.changeFromPrevious?.verdict ?? null, point.changeFromPreviousSurvives]) // prettier-ignore
    expect(seen).toEqual([
      [null, 'was_no_change'],
      ['increased', 'yes'],
      ['increased', 'yes'],
    ])
  })

  it('with gravity left in shows that a change was the weighing alone', async () => {
    const body = await preview({ gravity: 'left_in' })
    const [first, second] = body.points
    expect(second.before.changeFromPrevious.verdict).toBe('increased')
    expect(second.after.quantity).toEqual(first.after.quantity)
    expect(second.after.changeFromPrevious).toMatchObject({ verdict: 'within_measurement_error', difference: { value: 0 } }) // prettier-ignore
    expect(second.changeFromPreviousSurvives).toBe('no')
    // Gravity works against an extending knee: left in, less is shown
    expect(first.after.quantity.value).toBeLessThan(first.before.quantity.value)
    expect(body.choices.gravity).toBe('left_in')
  })

  it('shows the same of a change since the baseline, with the baseline analysed again as well', async () => {
    const [before] = (await world.clinician.get(`/v1/sessions?subjectId=${world.subjectId}`)).body.items
    await nameBaseline(world, before.id)
    const [first, second, third] = (await preview({ gravity: 'left_in' })).points
    expect([first.before.changeFromBaseline, first.changeFromBaselineSurvives]).toEqual([null, 'was_no_change'])
    expect([second.before, second.after].map(({ changeFromBaseline }) => changeFromBaseline.verdict)).toEqual(['increased', 'within_measurement_error']) // prettier-ignore
    expect(second.changeFromBaselineSurvives).toBe('no')
    // Reported without the weight of the limb in it, and may not be held against torque that has it
    expect(third.before.changeFromBaseline.verdict).toBe('increased')
    expect(third.after.changeFromBaseline).toEqual({ verdict: 'undetermined', difference: null })
  })

  it('leaves reported values as they are and names them', async () => {
    const body = await preview({ choices: { filter: { kind: 'none' } } })
    expect(body.notAnalysedAgain).toEqual([
      { resultId: body.points[2].resultId, sessionId: body.points[2].sessionId, reason: 'no_recording' },
    ])
    expect(body.choices.filter).toEqual({ kind: 'none', cutoffs: [] })
    expect(body.points[0].after.quantity.value).not.toBe(body.points[0].before.quantity.value)
    expect(body.points[2].after.quantity).toEqual({ value: 230, unit: 'N.m' })
  })

  it('answers a torque at an angle that was never asked for before', async () => {
    const at = { measure: 'torqueAtAngle', angle: { value: 45, unit: 'deg' } }
    const { points } = await preview(at)
    expect(points).toHaveLength(2)
    for (const { before, after } of points) {
      expect(before).toMatchObject({ quantity: null, reason: 'not_measured' })
      expect(after.quantity.unit).toBe('N.m')
      expect(after.quantity.value).toBeGreaterThan(100)
    }
  })

  it('stores nothing', async () => {
    const trend = await world.trend('left')
    await preview({ choices: { filter: { kind: 'none' }, workWindow: 'full_range' }, gravity: 'left_in' })
    expect(await world.trend('left')).toEqual(trend)
  })
})

describe('a preview is refused', () => {
  it('400 with every fault named', async () => {
    const answer = await world.clinician.post(
      url(),
      question({ movement: 'inversion', choices: { filter: { kind: 'moving_average' }, loadRange: { band: { value: 5, unit: 'deg' } } } }), // prettier-ignore
      { key: null },
    )
    expect(answer.status).toBe(400)
    expect(answer.body.errors.map((fault: LooseDocument) => fault.pointer).sort()).toEqual(['#/choices/filter/kind', '#/choices/loadRange/band/unit']) // prettier-ignore
    const other = await world.clinician.post(url(), question({ movement: 'inversion' }), { key: null })
    expect(other.body.errors).toMatchObject([{ pointer: '#/movement', code: 'movement_not_of_joint' }])
    const angle = await world.clinician.post(url(), question({ measure: 'torqueAtAngle' }), { key: null })
    expect(angle.body.errors).toMatchObject([{ pointer: '#/angle' }])
  })

  it('401, 403 for a machine, 404 for a subject of another clinic', async () => {
    expect((await service.api(null).post(url(), question())).status).toBe(401)
    expect((await world.machine.post(url(), question())).status).toBe(403)
    const other = await makeWorld(service)
    expect((await other.clinician.post(url(), question())).status).toBe(404)
  })
})
