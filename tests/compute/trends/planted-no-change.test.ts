import { describe, expect, it } from 'vitest'
import {
  chanceOfFalseChangeFromBaseline,
  chooseErrorModel,
  DAYS_PER_MONTH,
  decideChange,
  testRetestError,
  trendSlope,
  type ErrorModel,
  type KnownErrorModel,
} from '../../../src/compute/index.ts'
import { estimatedError, knownError } from '../error-models.ts'
import { seededNormal } from '../seeded-normal.ts'

const ROUNDS = 20_000

/** Per cent of the rounds that were called a change although nothing changed; the standard error of 5 % is 0.15 %. */
function shareCalled(decide: (normal: () => number) => string): number {
  const normal = seededNormal(20261125)
  let called = 0
  for (let i = 0; i < ROUNDS; i++) if (['increased', 'decreased'].includes(decide(normal))) called++
  return (100 * called) / ROUNDS
}

const verdictOf = (earlier: number, later: number, errorModel: ErrorModel): string =>
  decideChange({
    earlier: { value: earlier },
    later: { value: later },
    errorModel,
    confidence: 0.95,
    comparability: 'comparable',
    betterWhen: 'higher',
  }).verdict

/** The error that a knee extension of a woman of 25 without a history is judged by at this velocity. */
function publishedError(velocityDegS: number): KnownErrorModel {
  const test = { joint: 'knee', movement: 'extension', contractionMode: 'isokinetic_concentric', measure: 'peakTorque', velocityDegS } as const // prettier-ignore
  const person = { limbCondition: 'no_history', monthsSinceSurgery: null, sex: 'female', ageYears: 25 } as const
  const model = chooseErrorModel({ ...test, person }, null, 0.95)
  if (model.kind !== 'published') throw new Error('there is no published error for it')
  return model
}

describe('where nothing changed, 20,000 times', { timeout: 60_000 }, () => {
  it('a pair is called changed in 4.5 to 5.5 % with the SEM of a study of 2023, 10.5 N.m', () => {
    const model = publishedError(30)
    expect([model.scale, model.sem]).toEqual(['absolute', 10.5])
    expect(model.source).toContain('BMC Sports Sci Med Rehabil 2023')
    const share = shareCalled((normal) => verdictOf(180 + 10.5 * normal(), 180 + 10.5 * normal(), model))
    expect(share).toBeGreaterThan(4.5)
    expect(share).toBeLessThan(5.5)
  })

  it('a pair is called changed in 4.5 to 5.5 % with the SEM of Sole 2007, 10 %', () => {
    const model = publishedError(60)
    expect([model.scale, model.sem]).toEqual(['percent', 10])
    expect(model.source).toContain('Sole 2007')
    const torque = (normal: () => number): number => 180 * Math.exp(Math.log(1.1) * normal())
    const share = shareCalled((normal) => verdictOf(torque(normal), torque(normal), model))
    expect(share).toBeGreaterThan(4.5)
    expect(share).toBeLessThan(5.5)
  })

  it('a pair is called changed in 4.5 to 5.5 % with a SEM estimated anew from ten pairs, which the normal limit would not keep', () => {
    let calledByNormal = 0
    const share = shareCalled((normal) => {
      const test = (): number[] => Array.from({ length: 10 }, () => 9.5 * normal())
      const retest = testRetestError(test(), test(), 'absolute')
      if ('reason' in retest) throw new Error(retest.reason)
      const [earlier, later] = [180 + 9.5 * normal(), 180 + 9.5 * normal()]
      if (verdictOf(earlier, later, knownError(retest.sem)) !== 'within_measurement_error') calledByNormal++
      return verdictOf(earlier, later, estimatedError(retest.sem, retest.degreesOfFreedom))
    })
    expect(share).toBeGreaterThan(4.5)
    expect(share).toBeLessThan(5.5)
    expect((100 * calledByNormal) / ROUNDS).toBeGreaterThan(7)
  })

  it('a level run of five points is called a change in at most 5 %, because the larger of two standard errors is used', () => {
    const share = shareCalled(
      (normal) =>
        trendSlope({
          points: Array.from({ length: 5 }, (_, i) => ({ timeDays: i * DAYS_PER_MONTH, value: 180 + 9.5 * normal() })),
          comparability: 'comparable',
          errorModel: knownError(9.5),
          confidence: 0.95,
        }).verdict,
    )
    expect(share).toBeLessThan(5)
    expect(share).toBeGreaterThan(1)
  })

  it('five visits against one baseline call at least one change as often as computed', () => {
    const share = shareCalled((normal) => {
      const baseline = normal()
      const differs = Array.from({ length: 5 }, () => Math.abs(normal() - baseline) > 1.959964 * Math.SQRT2)
      return differs.includes(true) ? 'increased' : 'none'
    })
    // Standard error of the share 0.27 %.
    expect(Math.abs(share / 100 - chanceOfFalseChangeFromBaseline(5, 0.95))).toBeLessThan(0.01)
  })
})
