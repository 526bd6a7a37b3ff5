import { describe, expect, it } from 'vitest'
import {
  coefficientOfRepeatability,
  limitsOfAgreement,
  mean,
  pearsonCorrelation,
  studentTQuantile,
  testRetestError,
} from '../../../src/compute/index.ts'
import { MINI_1, MINI_2, WRIGHT_1, WRIGHT_2 } from './bland-altman-1986.ts'

function certain<A extends object>(answer: A): Exclude<A, { readonly reason: string }> {
  if ('reason' in answer) throw new Error(String(answer.reason))
  return answer as Exclude<A, { readonly reason: string }>
}

describe('limits of agreement (Bland & Altman 1986, Lancet i:307-10)', () => {
  it('reproduce the paper with its multiplier of 2', () => {
    const limits = certain(limitsOfAgreement(WRIGHT_1, MINI_1, 2))
    expect(limits.meanDifference).toBeCloseTo(-2.117647, 6)
    expect(limits.standardDeviation).toBeCloseTo(38.76513, 5)
    expect(limits.low).toBeCloseTo(-79.65, 2)
    expect(limits.high).toBeCloseTo(75.41, 2)
  })

  it('use 1.96 by default', () => {
    const limits = certain(limitsOfAgreement(WRIGHT_1, MINI_1))
    expect(limits.low).toBeCloseTo(-78.097302, 5)
    expect(limits.high).toBeCloseTo(73.862007, 5)
  })

  it('state how well the mean difference and the limits are known', () => {
    const limits = certain(limitsOfAgreement(WRIGHT_1, MINI_1))
    expect(limits.standardErrorOfMean).toBeCloseTo(9.4019, 4)
    expect(limits.standardErrorOfLimit).toBeCloseTo(16.2846, 4)
  })

  it('are wide although the methods correlate at .943', () => {
    expect(pearsonCorrelation(WRIGHT_1, MINI_1)).toBeCloseTo(0.943279, 6)
  })

  it('mirror when the methods change places', () => {
    const there = certain(limitsOfAgreement(WRIGHT_1, MINI_1))
    const back = certain(limitsOfAgreement(MINI_1, WRIGHT_1))
    expect(back.low).toBeCloseTo(-there.high, 10)
    expect(back.high).toBeCloseTo(-there.low, 10)
  })

  it('need three pairs, lists of equal length and a positive multiplier', () => {
    expect(limitsOfAgreement([1, 2], [1, 2])).toEqual({ reason: 'fewer_than_three_pairs' })
    expect(limitsOfAgreement([1, 2, 3], [1, 2, 3])).toMatchObject({ n: 3, meanDifference: 0, low: 0, high: 0 })
    expect(() => limitsOfAgreement([1, 2, 3], [1, 2])).toThrow('equal length')
    expect(() => limitsOfAgreement([1, 2, 3], [1, 2, 4], 0)).toThrow('multiplier is positive')
    expect(() => limitsOfAgreement([1, 2, 3], [1, 2, 4], Infinity)).toThrow('multiplier is positive')
  })
})

describe('coefficient of repeatability (Bland & Altman 1986)', () => {
  it.each<[string, number[], number[], number, number, number, number]>([
    ['the first meter', WRIGHT_1, WRIGHT_2, 21.646898, 43.293798, 42.427922, 15.306669],
    ['the second meter', MINI_1, MINI_2, 28.158167, 56.316333, 55.190007, 19.910831],
  ])('of %s', (_name, first, second, aboutZero, twoSd, conventional, within) => {
    const paper = certain(coefficientOfRepeatability(first, second, '2_sd_about_zero'))
    const ours = certain(coefficientOfRepeatability(first, second))
    expect(paper.standardDeviationAboutZero).toBeCloseTo(aboutZero, 5)
    expect(paper.coefficientOfRepeatability).toBeCloseTo(twoSd, 5)
    expect(ours.coefficientOfRepeatability).toBeCloseTo(conventional, 5)
    expect(ours.withinSubjectSd).toBeCloseTo(within, 5)
  })

  it('needs a pair and lists of equal length', () => {
    expect(coefficientOfRepeatability([], [])).toEqual({ reason: 'no_pairs' })
    expect(() => coefficientOfRepeatability([1], [])).toThrow('equal length')
  })
})

describe('test-retest error', () => {
  it('gives the typical error and mean change of both meters of Bland & Altman', () => {
    const wright = certain(testRetestError(WRIGHT_2, WRIGHT_1, 'absolute'))
    expect(wright.typicalError).toBeCloseTo(15.361215, 5)
    expect(wright.meanChange).toBeCloseTo(4.941176, 6)
    expect(wright.sem).toBeCloseTo(15.306669, 5)
    const mini = certain(testRetestError(MINI_2, MINI_1, 'absolute'))
    expect(mini.typicalError).toBeCloseTo(20.415806, 5)
    expect(mini.meanChange).toBeCloseTo(-2.882353, 6)
  })

  it('gives the example of Hopkins 2000 (Sports Med 30:1-15)', () => {
    const answer = certain(testRetestError([62, 78, 81, 55, 66], [67, 76, 87, 55, 63], 'absolute'))
    expect(answer.meanChange).toBeCloseTo(1.2, 12)
    expect(answer.typicalError * Math.SQRT2).toBeCloseTo(4.086563, 6)
    expect(answer.typicalError).toBeCloseTo(2.889637, 6)
    expect(answer.correlation).toBeCloseTo(0.945216, 6)
  })

  it('gives that example in per cent of the grand mean, 4.1879, and limits of agreement by t with 4 degrees, 11.3461', () => {
    const [first, second] = [
      [62, 78, 81, 55, 66],
      [67, 76, 87, 55, 63],
    ]
    const { typicalError } = certain(testRetestError(first, second, 'absolute'))
    expect((100 * typicalError) / mean([...first, ...second])).toBeCloseTo(4.1879, 4)
    const limits = certain(limitsOfAgreement(second, first, studentTQuantile(0.975, 4)))
    expect(limits.high - limits.meanDifference).toBeCloseTo(11.3461, 4)
    expect(limits.meanDifference - limits.low).toBeCloseTo(11.3461, 4)
  })

  it('gives the same data on logarithms: CV of the typical error 4.0794 %', () => {
    const answer = certain(testRetestError([62, 78, 81, 55, 66], [67, 76, 87, 55, 63], 'percent'))
    expect(answer.typicalError).toBeCloseTo(4.0794, 4)
  })

  it('finds a shift between tests, and keeps it inside the SEM', () => {
    const first = [100, 120, 140, 160, 180, 200]
    const second = [109, 131, 150, 169, 191, 210]
    const shifted = certain(testRetestError(first, second, 'absolute'))
    expect(shifted.meanShiftDetected).toBe(true)
    expect(shifted.meanChangePValue).toBeLessThan(0.001)
    expect(shifted.sem).toBeGreaterThan(10 * shifted.typicalError)
    const level = certain(testRetestError([62, 78, 81, 55, 66], [67, 76, 87, 55, 63], 'absolute'))
    expect(level.meanShiftDetected).toBe(false)
    expect(level.meanChangePValue).toBeCloseTo(0.547, 3)
  })

  it('treats a shift without any scatter as a shift', () => {
    const answer = certain(testRetestError([1, 2, 3], [2, 3, 4], 'absolute'))
    expect(answer).toMatchObject({ meanShiftDetected: true, meanChangePValue: null, typicalError: 0 })
  })

  it('states its interval: with 10 pairs about x0.70 to x1.75', () => {
    const first = [100, 110, 120, 130, 140, 150, 160, 170, 180, 190]
    const second = first.map((value, i) => value + (i % 2 === 0 ? 5 : -5))
    const answer = certain(testRetestError(first, second, 'absolute'))
    expect(answer.degreesOfFreedom).toBe(10)
    expect(answer.semInterval.low / answer.sem).toBeCloseTo(0.7, 2)
    expect(answer.semInterval.high / answer.sem).toBeCloseTo(1.75, 2)
  })

  it('says why there is none', () => {
    expect(testRetestError([1, 2], [1, 2], 'absolute')).toEqual({ reason: 'fewer_than_three_pairs' })
    expect(testRetestError([1, 2, 0], [1, 2, 3], 'percent')).toEqual({ reason: 'not_positive' })
    expect(testRetestError([1, 2, 3], [1, 2, 3], 'absolute')).toEqual({ reason: 'no_variance' })
    expect(() => testRetestError([1, 2, 3], [1, 2], 'absolute')).toThrow('equal length')
    for (const confidence of [0, 1, 95]) {
      expect(() => testRetestError([1, 2, 3], [1, 2, 3], 'absolute', confidence)).toThrow('confidence lies between')
    }
    // Nought and below are numbers like others where no logarithm is taken.
    expect(certain(testRetestError([-1, 0, 1], [1, 0, 2], 'absolute')).meanChange).toBeCloseTo(1, 12)
  })
})
