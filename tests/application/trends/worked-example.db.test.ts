import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { retestPairs, retests } from '../measurement-errors/retest-pairs.ts'
import { makeWorld, nameBaseline, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
let sessions: LooseDocument[]
let trend: LooseDocument

/** Six months of one knee: an invented course, its numbers computed by hand beside each assertion. */
const COURSE: readonly (readonly [day: string, rightNm: number])[] = [
  ['2026-05-12T14:40:00+02:00', 98.4],
  ['2026-07-14T13:50:00+02:00', 124.1],
  ['2026-09-08T14:10:00+02:00', 139.5],
  ['2026-10-13T11:55:00+02:00', 148.7],
  ['2026-11-17T12:05:00+01:00', 158.9],
]
const withoutStraps = (d: LooseDocument): void => {
  for (const setup of d.setups) setup.stabilisation.trunkStraps = 'none'
}

beforeAll(async () => {
  world = await makeWorld(service)
  // The other limb before surgery (2026-02-10): what the involved one had to lose.
  await world.pushVisit('2026-02-03', { sides: ['left'], extension: { left: 176.3, right: 0 } })
  sessions = []
  for (const [day, right] of COURSE) {
    const change = right === 139.5 ? withoutStraps : () => {}
    sessions.push(await world.pushVisit(day, { extension: { left: 171.2, right }, change }))
  }
  const error = await world.owner.post('/v1/measurement-errors', retests(retestPairs(24, 6.8)))
  expect(error.status, error.text).toBe(201)
  await nameBaseline(world, sessions[0].session.id)
  trend = await world.trend('right', { from: '2026-05-01', threshold: '176.3 N.m' })
})

const idOfPoint = (i: number): string =>
  sessions[i].results.find((r: LooseDocument) => r.side === 'right' && r.movement === 'extension').id

describe('the trend of one knee over six months', () => {
  it("rests on the clinic's own error: 24 pairs, SEM 6.8 N.m, MDC 18.85 N.m (1.96 x sqrt 2 x SEM)", () => {
    const { errorModel } = trend
    expect(errorModel).toMatchObject({
      kind: 'clinic_test_retest',
      pairs: 24,
      confidence: 0.95,
      source: 'own clinic, retests 2025-02 to 2026-09',
      standardErrorOfMeasurement: { unit: 'N.m' },
      minimalDetectableChange: { unit: 'N.m' },
    })
    expect(errorModel.standardErrorOfMeasurement.value).toBeCloseTo(6.8, 9)
    expect(errorModel.minimalDetectableChange.value).toBeCloseTo(18.85, 2)
  })

  it('says what it is: the series, named in advance as primary, better when higher', () => {
    expect(trend).toMatchObject({ primary: true, betterWhen: 'higher', confidence: 0.95, excluded: [] })
    expect(trend.series).toEqual({
      subjectId: world.subjectId,
      joint: 'knee',
      side: 'right',
      movement: 'extension',
      contractionMode: 'isokinetic_concentric',
      contractionScheme: 'reciprocal',
      velocity: { value: 60, unit: 'deg/s' },
      measure: 'peakTorque',
      statistic: 'best',
    })
  })

  it('says of what was not named in advance that it is not primary', async () => {
    expect((await world.trend('right', { movement: 'flexion' })).primary).toBe(false)
    expect((await world.trend('right', { measure: 'peakTorquePerBodyMass' })).primary).toBe(false)
  })

  it('puts the visit without trunk straps in a run of its own, and says why', () => {
    const { points, splits } = trend
    expect(points.map((p: LooseDocument) => [p.quantity.value, p.run])).toEqual([
      [98.4, 'A'],
      [124.1, 'A'],
      [139.5, 'B'],
      [148.7, 'A'],
      [158.9, 'A'],
    ])
    expect(points.map((p: LooseDocument) => p.at)).toEqual(COURSE.map(([day]) => day))
    expect(points.map((p: LooseDocument) => p.baseline)).toEqual([true, false, false, false, false])
    expect(splits).toHaveLength(1)
    expect(splits[0]).toMatchObject({ resultId: idOfPoint(2), against: idOfPoint(1), verdict: 'not_comparable' })
    expect(splits[0].reasons[0]).toEqual({
      factor: 'trunk_straps',
      effect: 'not_comparable',
      before: 'both',
      now: 'none',
      source: 'Magnusson 1993 JAT 28:221-4',
    })
  })

  it.each([
    [1, 'increased', 25.7, 0, 'increased', 25.7],
    [3, 'increased', 24.6, 1, 'increased', 50.3],
    // noise shown as change: 10.2 N.m is less than the error allows
    [4, 'within_measurement_error', 10.2, 3, 'increased', 60.5],
  ])(
    'judges point %i: %s by %f N.m against point %i, %s by %f N.m since the start',
    (i, verdict, difference, against, sinceStart, whole) => {
      const { changeFromPrevious: step, changeFromRunStart: start } = trend.points[i]
      expect([step.verdict, step.against]).toEqual([verdict, idOfPoint(against)])
      expect(step.difference.value).toBeCloseTo(difference, 9)
      expect([start.verdict, start.against]).toEqual([sinceStart, idOfPoint(0)])
      expect(start.difference.value).toBeCloseTo(whole, 9)
    },
  )

  it('draws no change to or from the visit that may not be compared', () => {
    for (const i of [0, 2]) {
      expect(trend.points[i]).toMatchObject({ changeFromPrevious: null, changeFromRunStart: null })
    }
  })

  it('has a slope of 9.52 N.m a month, 6.80 to 12.25, over the comparable run alone, and 17.4 N.m left to go', () => {
    const [a, b] = trend.runs
    expect(a).toMatchObject({
      run: 'A',
      pointCount: 4,
      comparability: 'comparable_with_caution',
      slope: { unit: 'N.m/mo', verdict: 'increased', standardErrorFrom: 'measurement_error' },
      threshold: { unit: 'N.m', distance: { unit: 'N.m' } },
    })
    expect(a.slope.value).toBeCloseTo(9.52, 2)
    expect(a.slope.interval.low).toBeCloseTo(6.8, 2)
    expect(a.slope.interval.high).toBeCloseTo(12.25, 2)
    expect(a.slope.interval.confidence).toBe(0.95)
    expect(a.threshold.value).toBe(176.3)
    expect(a.threshold.distance.value).toBeCloseTo(17.4, 9)
    expect(a.threshold.note).toMatch(/no date/)
    expect(b).toMatchObject({
      run: 'B',
      pointCount: 1,
      slope: { value: null, unit: 'N.m/mo', reason: 'fewer_than_three_comparable_points' },
    })
  })

  it('projects no date and says nothing that reads as a clearance', () => {
    expect(JSON.stringify(trend)).not.toMatch(
      /\b(cleared?|safe|fit|ready to|passed|failed|OK|normal|healed|recommended to return)\b/i,
    )
    expect(JSON.stringify(trend)).not.toMatch(/2027-/)
  })

  it('shows both limbs beside each point, and pain and flags of the day', () => {
    const { points } = trend
    for (const point of points) {
      const { left, right } = point.perBodyMass
      expect([left.unit, right.unit]).toEqual(['N.m/kg', 'N.m/kg'])
      expect([left.value, right.value]).toEqual([expect.closeTo(171.2 / 68.4, 9), expect.closeTo(point.quantity.value / 68.4, 9)]) // prettier-ignore
      expect(point.painDuring).toEqual({ value: 0, unit: '{score}' })
      expect(point.effusion).toBeNull()
    }
  })

  it('is filtered by day without changing what is judged within', async () => {
    const late = await world.trend('right', { from: '2026-10-01', to: '2026-11-16' })
    expect(late.points.map((p: LooseDocument) => p.quantity.value)).toEqual([148.7])
    const all = await world.trend('right')
    expect(all.points).toHaveLength(5)
  })
})

describe('symmetry of the last visit', () => {
  it('is 92.82 %, and 90.13 % of what the other limb had before surgery', async () => {
    const { points } = await world.symmetry()
    const last = points.at(-1)
    expect(last.limbSymmetryIndex.value).toBeCloseTo(92.82, 2)
    expect(last.deficit.value).toBeCloseTo(7.185, 3)
    expect(last).toMatchObject({ weakerSide: 'right', left: { value: 171.2 }, right: { value: 158.9 } })
    expect(last.estimatedPreInjuryCapacity.value).toBeCloseTo(90.13, 2)
    expect(last.estimatedPreInjuryCapacity.testedWhen).toBe('pre_operative')
    // Before surgery the other limb alone was tested: no symmetry, with its reason, and never taken for 0 or 100.
    expect(points[0].limbSymmetryIndex).toMatchObject({ value: null, reason: 'other_limb_not_tested_in_session' })
  })
})
