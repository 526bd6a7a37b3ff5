/**
 * Numbers worked by hand, or by a program that shares nothing with ours, as answers of the service: pairs of tests and visits
 * are sent, and what is read back is held against the digits. Each block names where its arithmetic is published.
 */
import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { retestPairs, retestPairsInPercent, retests } from '../measurement-errors/retest-pairs.ts'
import { makeWorld, worldIn, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())

/** So many that t and normal hardly differ: the published arithmetic takes the error as known. */
const MANY = 1000

async function withError(body: object): Promise<{ world: World; error: LooseDocument }> {
  const world = await makeWorld(service)
  const answer = await world.owner.post('/v1/measurement-errors', body)
  expect(answer.status, answer.text).toBe(201)
  return { world, error: answer.body }
}

/** One visit each thirty days, the involved limb first: a month of the hand-worked trends. */
async function visits(world: World, torquesNm: readonly number[], days: readonly string[] = DAYS): Promise<void> {
  for (const [index, right] of torquesNm.entries())
    await world.pushVisit(days[index]!, { extension: { left: 200, right } })
}
const DAYS = ['2026-05-10', '2026-06-09', '2026-07-09', '2026-08-08']
/** The service's month is that of UCUM, 30.4375 days (table 4.2 of its specification). */
const perThirtyDays = (perMonth: number): number => (perMonth * 30) / 30.4375

describe('a SEM of 9.5 N.m (Weir 2005, J Strength Cond Res 19:231-40: MDC = 1.96 x root 2 x SEM, 1.645 at 90 %)', () => {
  let world: World
  let error: LooseDocument
  beforeAll(async () => {
    ;({ world, error } = await withError(retests(retestPairs(MANY, 9.5, (i) => 100 + (i % 90)))))
    await visits(world, [195, 220, 223])
  }, 60_000)

  it('has a detectable change of 26.33 N.m at 95 % and 22.10 N.m at 90 %', async () => {
    expect(error.standardErrorOfMeasurement.value).toBeCloseTo(9.5, 9)
    // Printed 26.3327 and 22.1006 with the quantiles rounded to 1.96 and 1.645; ours are not rounded
    expect(error.minimalDetectableChange.rise.value).toBeCloseTo(26.3327, 2)
    expect(error.minimalDetectableChange.fall.value).toBeCloseTo(-26.3327, 2)
    const [at95, at90] = [await world.trend('right'), await world.trend('right', { confidence: '0.9' })]
    expect(at95.errorModel.minimalDetectableChange.value).toBeCloseTo(26.3327, 2)
    expect(at90.errorModel.minimalDetectableChange.value).toBeCloseTo(22.1006, 2)
  })

  it('195 to 220 N.m: 25 N.m, z 1.8608, p .0628: no change at 95 %, one at 90 %', async () => {
    const [at95, at90] = [await world.trend('right'), await world.trend('right', { confidence: '0.9' })]
    const { changeFromPrevious: step } = at95.points[1]
    expect(step).toMatchObject({ verdict: 'within_measurement_error', difference: { value: 25, unit: 'N.m' } })
    expect(step).not.toHaveProperty('meaning')
    expect(step.standardised).toBeCloseTo(1.8608, 4)
    // scipy 1.17: normal .062772, t with a thousand degrees of freedom .063065
    expect(step.pValue).toBeCloseTo(0.063065, 6)
    expect(Math.abs(step.pValue - 0.0628)).toBeLessThan(0.0003)
    expect(at90.points[1].changeFromPrevious).toMatchObject({ verdict: 'increased', meaning: 'better' })
  })

  it('195 to 223 N.m: z 2.0842: a change at 95 %', async () => {
    const { changeFromRunStart: whole } = (await world.trend('right')).points[2]
    expect(whole).toMatchObject({ verdict: 'increased', difference: { value: 28 } })
    // 28 / (9.5 x root 2) = 2.08410; the last printed digit is rounded up
    expect(whole.standardised).toBeCloseTo(2.0842, 3)
  })

  it('is not divided by root 3 because a value is a mean of repetitions: the error between days does not shrink', async () => {
    const mean = { movement: 'extension', measure: 'peakTorque', statistic: 'mean', quantity: { value: 190, unit: 'N.m' } } // prettier-ignore
    const other = await worldIn(service, world.clinic, 'RB-2')
    await other.pushVisit('2026-06-01', { change: (d) => d.sets.forEach((set: LooseDocument) => set.reported.values.push(mean)) }) // prettier-ignore
    const { errorModel, points } = await other.trend('right', { statistic: 'mean' })
    expect(points).toMatchObject([{ quantity: { value: 190 } }])
    expect(errorModel.standardErrorOfMeasurement.value).toBeCloseTo(9.5, 9)
  })
})

describe('a limb without a history, where the clinic has no error of its own', () => {
  it('is judged by a published one, named: Sole 2007, 10 % of the torque of women and men of 21 years on average', async () => {
    const world = await makeWorld(service)
    // The left limb has no history; SEM printed as 5 to 10 %, of which the upper end holds
    for (const [day, left] of [['2026-05-10', 100], ['2026-06-09', 130], ['2026-07-09', 131]] as const) await world.pushVisit(day, { extension: { left, right: 90 } }) // prettier-ignore
    const { errorModel, points } = await world.trend('left')
    expect(errorModel).toMatchObject({ kind: 'published', subjects: 18, source: 'Sole 2007 Arch Phys Med Rehabil 88:626-31', standardErrorOfMeasurement: { value: 10, unit: '%' } }) // prettier-ignore
    // exp(1.96 x root 2 x ln 1.1) = 1.30237: 130 of 100 N.m is within, 131 is not
    expect(errorModel.minimalDetectableChange).toEqual({ value: expect.closeTo(30.237, 2), unit: '%' })
    const [, within, beyond] = points.map((point: LooseDocument) => point.changeFromRunStart)
    expect(within).toMatchObject({ verdict: 'within_measurement_error', judgedBy: { kind: 'published', source: 'Sole 2007 Arch Phys Med Rehabil 88:626-31' } }) // prettier-ignore
    expect(within.judgedBy).not.toHaveProperty('scope')
    expect(beyond.verdict).toBe('increased')
    // Two-sided P of the standard normal distribution (scipy 1.17): ln 1.3 / (root 2 x ln 1.1)
    expect(within.standardised).toBeCloseTo(1.946482, 6)
    expect(within.pValue).toBeCloseTo(0.0516, 4)
  })
})

describe('a limb at 30 deg/s', () => {
  it('is judged by the SEM of 10.5 N.m of a study of 2023 and its detectable change of 29.1 N.m', async () => {
    const world = await makeWorld(service)
    await world.pushVisit('2026-05-10', { velocitiesDegS: [30] })
    const { errorModel } = await world.trend('left', { velocity: '30 deg/s' })
    expect(errorModel).toMatchObject({ kind: 'published', standardErrorOfMeasurement: { value: 10.5, unit: 'N.m' } })
    expect(errorModel.source).toContain('doi 10.1186/s13102-023-00788-z')
    expect(errorModel.minimalDetectableChange.value).toBeCloseTo(29.1, 1)
  })
})

describe('how well an error of the clinic is known', () => {
  it.each([
    [10, 0.7, 1.75],
    [30, 0.8, 1.34],
  ])('from %i pairs: its 95 %% limits are %f and %f times as large (chi-square)', async (count, low, high) => {
    const { error } = await withError(retests(retestPairs(count, 9.5)))
    const { value, interval } = error.standardErrorOfMeasurement
    expect([interval.low / value, interval.high / value].map((ratio) => Math.round(100 * ratio) / 100)).toEqual([low, high]) // prettier-ignore
    const { rise } = error.minimalDetectableChange
    expect(rise.interval.high / rise.value).toBeCloseTo(interval.high / value, 9)
  })
})

describe('an error by way of reliability: SD 45 N.m, ICC .95', () => {
  it('is a SEM of 10.0623 N.m and a detectable change of 27.89 N.m (Weir 2005: SEM = SD x root (1 - ICC))', async () => {
    // Mean squares of Shrout & Fleiss 1979, Psychol Bull 86:420-8, whose ICC(1,1) is .95 at a total variance of 45 squared
    const [within, between] = [45 ** 2 * 0.05, 45 ** 2 * 1.95]
    const people = 20
    const step = Math.sqrt(between / 2 / ((people * (people + 1)) / 12))
    const pairs = retestPairs(people, Math.sqrt(within), (i) => 200 + step * (i - (people - 1) / 2))
    const { error } = await withError(retests(pairs))
    const oneTest = error.intraclassCorrelation.forms.find(({ form }: { form: string }) => form === 'ICC(1,1)')
    expect(oneTest.value).toBeCloseTo(0.95, 9)
    expect(error.standardErrorOfMeasurement.value).toBeCloseTo(10.0623, 4)
    expect(error.minimalDetectableChange.rise.value).toBeCloseTo(27.8913, 2)
  })
})

describe('an error of 5 % of the value (log model: Hopkins 2000, Sports Med 30:1-15)', () => {
  let world: World
  let error: LooseDocument
  beforeAll(async () => {
    ;({ world, error } = await withError(retests(retestPairsInPercent(MANY, 5), { scale: 'percent' })))
  }, 60_000)

  it('has limits of +14.48 % and -12.65 %', () => {
    expect(error.standardErrorOfMeasurement).toMatchObject({ value: expect.closeTo(5, 9), unit: '%' })
    expect(error.minimalDetectableChange.rise).toMatchObject({ value: expect.closeTo(14.48, 2), unit: '%' })
    expect(error.minimalDetectableChange.fall).toMatchObject({ value: expect.closeTo(-12.65, 2), unit: '%' })
  })

  it('so that a rise of 13.5 % is within error, a fall of 13.5 % is not', async () => {
    await visits(world, [200, 227])
    const [, risen] = (await world.trend('right')).points
    expect(risen.changeFromPrevious.verdict).toBe('within_measurement_error')
    // 200 x 1.1448 and 200 x 0.8735, a hair wider by t with a thousand degrees of freedom (scipy 1.17)
    expect(risen.changeFromPrevious.withinErrorBetween.low).toBeCloseTo(200 * (0.8733658 - 1), 3)
    expect(risen.changeFromPrevious.withinErrorBetween.high).toBeCloseTo(200 * (1.1449956 - 1), 3)
    const other = await worldIn(service, world.clinic, 'RB-2')
    await visits(other, [200, 173])
    expect((await other.trend('right')).points[1].changeFromPrevious).toMatchObject({ verdict: 'decreased', meaning: 'worse' }) // prettier-ignore
  })
})

describe('a trend of 110, 128, 139, 161 N.m a month apart (least squares; numpy and scipy)', () => {
  const COURSE = [110, 128, 139, 161]
  const runOf = async (world: World, more?: Record<string, string>) => (await world.trend('right', more)).runs[0]

  it('without a known error has the standard error of its residuals: 1.4213, t 11.539 with 2 degrees of freedom', async () => {
    const world = await makeWorld(service)
    await visits(world, COURSE)
    const { slope, pointCount } = await runOf(world)
    expect([pointCount, slope.unit, slope.standardErrorFrom, slope.verdict]).toEqual([4, 'N.m/mo', 'residuals', 'increased']) // prettier-ignore
    expect(perThirtyDays(slope.value)).toBeCloseTo(16.4, 9)
    expect(perThirtyDays(slope.standardError)).toBeCloseTo(1.4213, 4)
    expect(slope.value / slope.standardError).toBeCloseTo(11.539, 3)
    // t of 2 degrees of freedom: 4.3027
    expect(perThirtyDays(slope.interval.high)).toBeCloseTo(16.4 + 4.3027 * 1.4213, 3)
    expect(slope.cautions).toContain('no_measurement_error_known')
  })

  it('with a SEM of 9.5 N.m has the larger one: 4.2485, z 3.8602, 8.07 to 24.73', async () => {
    const { world } = await withError(retests(retestPairs(24, 9.5)))
    await visits(world, COURSE)
    const { slope } = await runOf(world)
    expect([slope.standardErrorFrom, slope.verdict]).toEqual(['measurement_error', 'increased'])
    expect(perThirtyDays(slope.value)).toBeCloseTo(16.4, 9)
    expect(perThirtyDays(slope.standardError)).toBeCloseTo(4.2485, 4)
    expect(slope.value / slope.standardError).toBeCloseTo(3.8602, 4)
    expect(perThirtyDays(slope.interval.low)).toBeCloseTo(8.07, 2)
    expect(perThirtyDays(slope.interval.high)).toBeCloseTo(24.73, 2)
  })

  it('150, 158, 149, 160 N.m: slope 2.1, z .494: a plateau and no progress', async () => {
    const { world } = await withError(retests(retestPairs(24, 9.5)))
    await visits(world, [150, 158, 149, 160])
    const { slope } = await runOf(world)
    expect([slope.standardErrorFrom, slope.verdict]).toEqual(['measurement_error', 'plateau'])
    expect(perThirtyDays(slope.value)).toBeCloseTo(2.1, 9)
    expect(slope.value / slope.standardError).toBeCloseTo(0.494, 3)
  })

  it('of a recovery that slows, 100 - 60 exp(-t / 5), tells the distance to 90 and no date', async () => {
    const world = await makeWorld(service)
    // An invented curve: it reaches 90 at month 9 (5 ln 6), the line through its months 3 to 6 at 7.5
    await visits(
      world,
      [3, 4, 5, 6].map((month) => 100 - 60 * Math.exp(-month / 5)),
    )
    const run = await runOf(world, { threshold: '90 N.m' })
    expect(run.threshold).toMatchObject({ value: 90, unit: 'N.m', distance: { unit: 'N.m' } })
    expect(run.threshold.distance.value).toBeCloseTo(8.0717, 4)
    expect(Object.keys(run.threshold)).toEqual(['value', 'unit', 'distance', 'note'])
    expect(JSON.stringify(run)).not.toMatch(/\d{4}-\d{2}-\d{2}/)
    // The same threshold in another unit: 90 N.m are 66.38 lbf.ft
    const inPounds = await runOf(world, { threshold: `${90 / 1.3558179483314004} [ft_i].[lbf_av]` })
    expect(inPounds.threshold.distance.value).toBeCloseTo(8.0717, 4)
  })
})

describe('both limbs: involved 190 N.m, other limb 200 now and 230 before surgery', () => {
  it('are an index of 95.0 and 82.6087 % of the capacity before (Wellsandt 2017, J Orthop Sports Phys Ther 47:334-8)', async () => {
    const world = await makeWorld(service)
    await world.pushVisit('2026-02-03', { sides: ['left'], extension: { left: 230, right: 0 } })
    await world.pushVisit('2026-08-04', { extension: { left: 200, right: 190 } })
    const now = (await world.symmetry()).points.at(-1)
    expect(now.limbSymmetryIndex.value).toBeCloseTo(95, 9)
    expect(now.deficit.value).toBeCloseTo(5, 9)
    expect(now).toMatchObject({ weakerSide: 'right', setupsMatch: 'comparable_with_caution' })
    expect(now.estimatedPreInjuryCapacity).toMatchObject({ value: expect.closeTo(82.6087, 4), testedWhen: 'pre_operative' }) // prettier-ignore
  })

  it('without the test before surgery have no such percentage: today’s other limb never takes its place', async () => {
    const world = await makeWorld(service)
    await world.pushVisit('2026-08-04', { extension: { left: 200, right: 190 } })
    const [now] = (await world.symmetry()).points
    expect(now.limbSymmetryIndex.value).toBeCloseTo(95, 9)
    expect(now.estimatedPreInjuryCapacity).toMatchObject({ value: null, reason: 'no_pre_injury_test_of_other_limb' })
  })

  it('hop six metres in 2.20 and 2.00 s: 90.9091 %, a time being better the shorter it is, and never 110', async () => {
    const world = await makeWorld(service)
    const hop = (side: string, value: number) => ({ key: side, test: 'six_metre_timed_hop', side, trials: [{ value, unit: 's' }] }) // prettier-ignore
    await world.pushVisit('2026-08-04', { change: (d) => (d.functionalResults = [hop('left', 2), hop('right', 2.2)]) })
    const url = `/v1/episodes/${world.episodeId}/readiness?criteriaSet=toole-2017&on=2026-08-05`
    const { body, status, text } = await world.clinician.get(url)
    expect(status, text).toBe(200)
    const timed = body.criteria.find(({ key }: LooseDocument) => key === 'timed-hop')
    expect(timed).toMatchObject({ verdict: 'met', comparator: '>=', threshold: { value: 90, unit: '%' } })
    expect(timed.observed).toMatchObject({ value: expect.closeTo(90.9091, 4), unit: '%' })
  })
})
