import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, type VisitOptions, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
  await world.pushVisit('2026-10-06', { extension: { left: 170, right: 150 } })
  await world.pushVisit('2026-10-13', { extension: { left: 174, right: 153 } })
})

const FOOT_POUND = 1.3558179483314004
/** What a printout in foot-pounds says of the same two legs. */
const footPounds: VisitOptions = {
  extension: { left: 172 / FOOT_POUND, right: 151.5 / FOOT_POUND },
  flexion: { left: 92 / FOOT_POUND, right: 84 / FOOT_POUND },
}
const readiness = async (): Promise<LooseDocument> => {
  const url = `/v1/episodes/${world.episodeId}/readiness?criteriaSet=kyritsis-2016&on=2026-11-12`
  const { body } = await world.clinician.get(url)
  return body.criteria.find((one: LooseDocument) => one.key === 'quadriceps-deficit-60')
}
const resolve = (flag: LooseDocument, status: 'dismissed' | 'confirmed') =>
  world.clinician.post(`/v1/flags/${flag.id}/resolution`, { status, reason: 'Looked at the printout.' })
const pointsOf = async (): Promise<number[]> =>
  (await world.trend('right')).points.map((point: LooseDocument) => point.quantity.value)

describe('unit error: a document in foot-pounds sent as N.m', () => {
  let body: LooseDocument
  beforeEach(async () => {
    body = await world.pushVisit('2026-11-10', footPounds)
  })

  it('is stored, and kept out of trend, symmetry and readiness with its reason', async () => {
    expect(body.results.map((r: LooseDocument) => r.state)).toEqual(['held', 'held', 'held', 'held'])
    for (const side of ['left', 'right'] as const) {
      const trend = await world.trend(side)
      expect(trend.points).toHaveLength(2)
      expect(trend.excluded).toMatchObject([
        { sessionId: body.session.id, reason: 'possible_unit_error', held: true, at: '2026-11-10T09:05:00+01:00' },
      ])
    }
    const pair = (await world.symmetry()).points.at(-1)
    expect(pair.sessionId).toBe(body.session.id)
    expect(pair.limbSymmetryIndex).toMatchObject({ value: null, reason: 'possible_unit_error' })
    expect(pair.left).toMatchObject({ value: null, reason: 'possible_unit_error' })
    expect(body.symmetry[0].limbSymmetryIndex).toMatchObject({ value: null, reason: 'possible_unit_error' })
    // The latest attempt governs: the older, better evidence does not step in.
    expect(await readiness()).toMatchObject({ verdict: 'not_assessable', reason: 'possible_unit_error' })
  })

  it('is no history for the next visit: neither its values nor its place as the previous one', async () => {
    const next = await world.pushVisit('2026-11-11')
    expect(next.flags).toEqual([])
    expect(next.comparability.map((c: LooseDocument) => c.sessionId)).not.toContain(body.session.id)
    expect(next.results.every((r: LooseDocument) => r.state === 'final')).toBe(true)
  })

  it('counts again once a clinician dismissed every flag, and only then', async () => {
    const flags: LooseDocument[] = body.flags.filter((flag: LooseDocument) => flag.level === 'hold')
    const ofRightExtension = body.results.find(
      (r: LooseDocument) => r.side === 'right' && r.movement === 'extension',
    ).id
    for (const flag of flags.filter((one) => one.resultId !== ofRightExtension)) expect((await resolve(flag, 'dismissed')).status).toBe(201) // prettier-ignore
    expect(await pointsOf()).toHaveLength(2)
    await resolve(flags.find((one) => one.resultId === ofRightExtension) ?? {}, 'dismissed')
    expect(await pointsOf()).toHaveLength(3)
    expect((await world.trend('right')).excluded).toEqual([])
    expect((await world.symmetry()).points.at(-1).limbSymmetryIndex.value).toBeCloseTo((100 * 151.5) / 172, 6)
    expect((await readiness()).verdict).toBe('not_met')
  })

  it('stays out for good once a clinician confirmed it', async () => {
    for (const flag of body.flags) expect((await resolve(flag, 'confirmed')).status).toBe(201)
    expect(await pointsOf()).toHaveLength(2)
    expect((await world.trend('right')).excluded).toMatchObject([{ reason: 'possible_unit_error', held: true }])
    expect(await readiness()).toMatchObject({ verdict: 'not_assessable', reason: 'possible_unit_error' })
    const again = await resolve(body.flags[0], 'dismissed')
    expect([again.status, again.body.code]).toEqual([409, 'already_decided'])
  })
})

describe('aborted or pain-limited trial counted', () => {
  it('cannot be: a repetition noted as aborted is left out of best, mean and count, and named', async () => {
    const document = recorded(world.visit('2026-11-10'))
    const whole = await world.push(
      structuredClone({ ...document, externalId: { ...document.externalId, value: 'V-w' } }),
    )
    const best = whole.body.results[0].measures.peakTorque.best
    document.sets[0].repetitionNotes = [{ repetition: best.repetition, count: 'no', reason: 'aborted' }]
    document.bodyMass.value = 68.5
    const { body } = await world.push(document)
    const [left] = body.results
    expect(left.repetitions).toEqual({ counted: 4, notCounted: [{ repetition: best.repetition, reason: 'aborted' }] })
    expect(left.measures.peakTorque.best.value).toBeLessThan(best.value)
    expect(left.measures.peakTorque.best.repetition).not.toBe(best.repetition)
    expect(left.measures.peakTorque.mean.n).toBe(4)
  })

  it('cannot be: pain above 3 of 10 holds every strength result of the visit, and none of its hops', async () => {
    const { results, flags } = await world.pushVisit('2026-11-10', {
      change: (d) => {
        d.screening.pain.during.value = 4
        d.functionalResults = [{ key: 'r', test: 'agility_t_run_time', trials: [{ value: 10.2, unit: 's' }] }]
      },
    })
    expect(results.every((r: LooseDocument) => r.state === 'held')).toBe(true)
    expect(flags.map((flag: LooseDocument) => flag.code)).toEqual(Array(4).fill('pain_limited'))
    expect(await readiness()).toMatchObject({ verdict: 'not_assessable', reason: 'pain_limited' })
    expect((await world.trend('right')).excluded).toMatchObject([{ reason: 'pain_limited', held: true }])
  })
})

describe('wrong side: a session whose left and right were exchanged', () => {
  const weighed = (left: number, right: number) => (d: LooseDocument) => {
    d.setups[0].limbWeighing.torque.value = left
    d.setups[1].limbWeighing.torque.value = right
  }
  it('holds both limbs until a clinician looked', async () => {
    const flexion = { left: 92, right: 80 }
    await world.pushVisit('2026-10-20', { extension: { left: 172, right: 150 }, flexion, change: weighed(11.6, 9.7) })
    const swapped = await world.pushVisit('2026-11-10', {
      extension: { left: 151, right: 172 },
      flexion: { left: 80, right: 92 },
      change: weighed(9.7, 11.6),
    })
    expect(swapped.results.map((r: LooseDocument) => r.state)).toEqual(Array(4).fill('held'))
    for (const side of ['left', 'right'] as const) {
      expect((await world.trend(side)).excluded).toMatchObject([{ reason: 'possible_side_swap' }])
    }
  })
})

describe('missing hidden', () => {
  it('cannot be: what was not reported is null with its reason, never 0 and never absent', async () => {
    const { results } = await world.pushVisit('2026-11-10', {
      change: (d) => d.sets[1].reported.values.pop(),
    })
    const flexion = results.find((r: LooseDocument) => r.side === 'right' && r.movement === 'flexion')
    for (const [measure, statistics] of Object.entries<LooseDocument>(flexion.measures)) {
      if (measure === 'torqueAtAngle') continue
      for (const value of Object.values<LooseDocument>(statistics)) {
        expect(value).toMatchObject({ value: null, reason: 'not_reported' })
      }
    }
    const trend = await world.trend('right', { movement: 'flexion' })
    expect(trend.excluded).toMatchObject([{ reason: 'not_reported', held: false }])
  })

  it('cannot be: a limb that was not tested gives no symmetry, and says so', async () => {
    const { symmetry } = await world.pushVisit('2026-11-10', { sides: ['right'] })
    expect(symmetry[0].limbSymmetryIndex).toMatchObject({ value: null, reason: 'other_limb_not_tested_in_session' })
  })
})

describe('noise shown as change', () => {
  it('cannot be: without an error that holds for this limb a difference is undetermined, with its reason', async () => {
    await world.pushVisit('2026-11-10', { velocitiesDegS: [120] })
    await world.pushVisit('2026-11-11', { velocitiesDegS: [120], extension: { left: 170, right: 190 } })
    const { points, errorModel } = await world.trend('right', { velocity: '120 deg/s' })
    expect(errorModel).toMatchObject({ kind: 'none', reason: expect.any(String) })
    expect(points[1].changeFromPrevious).toMatchObject({
      verdict: 'undetermined',
      difference: { value: 40, unit: 'N.m' },
      reason: errorModel.reason,
    })
  })
})
