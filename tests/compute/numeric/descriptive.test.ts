import fc from 'fast-check'
import * as simple from 'simple-statistics'
import { describe, expect, it } from 'vitest'
import {
  coefficientOfVariationPct,
  mean,
  pearsonCorrelation,
  sampleStandardDeviation,
  sampleVariance,
  sum,
} from '../../../src/compute/index.ts'

const numbers = fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { minLength: 2, maxLength: 40 })

describe('descriptive statistics', () => {
  it('take the sample standard deviation with n - 1 (one subject of Hopkins 2000: 72 76 74 79 79 77)', () => {
    const trials = [72, 76, 74, 79, 79, 77]
    expect(mean(trials)).toBeCloseTo(76.1667, 4)
    expect(sampleStandardDeviation(trials)).toBeCloseTo(2.7869, 4)
  })

  it('keep a small number beside a huge one, and small spread on a large offset', () => {
    expect(sum([1, 1e100, 1, -1e100])).toBe(2)
    expect(sampleVariance([1e9 + 4, 1e9 + 7, 1e9 + 13, 1e9 + 16])).toBe(30)
  })

  it('agree with simple-statistics', () => {
    fc.assert(
      fc.property(numbers, (values) => {
        const scale = Math.max(1, ...values.map(Math.abs))
        expect(Math.abs(mean(values) - simple.mean(values))).toBeLessThanOrEqual(1e-12 * scale)
        expect(Math.abs(sampleStandardDeviation(values) - simple.sampleStandardDeviation(values))).toBeLessThanOrEqual(
          1e-9 * scale,
        )
      }),
      { seed: 20261125, numRuns: 200 },
    )
    const [x, y] = [
      [62, 78, 81, 55, 66],
      [67, 76, 87, 55, 63],
    ]
    expect(pearsonCorrelation(x, y)).toBeCloseTo(simple.sampleCorrelation(x, y), 12)
  })

  it('do not depend on the order of the values', () => {
    fc.assert(
      fc.property(numbers, (values) => {
        const reversed = values.toReversed()
        expect(mean(reversed)).toBeCloseTo(mean(values), 8)
        expect(sampleStandardDeviation(reversed)).toBeCloseTo(sampleStandardDeviation(values), 6)
      }),
      { seed: 20261125, numRuns: 200 },
    )
  })

  it('give the coefficient of variation of 180 186 178 184 182 as 1.7375 %, and none where the mean is not positive', () => {
    expect(coefficientOfVariationPct([180, 186, 178, 184, 182])).toBeCloseTo(1.7375, 4)
    expect(coefficientOfVariationPct([-1, 1])).toBeNull()
    expect(coefficientOfVariationPct([-3, -1])).toBeNull()
  })

  it('give no correlation where one list does not vary', () => {
    expect(pearsonCorrelation([1, 1, 1], [1, 2, 3])).toBeNull()
    expect(pearsonCorrelation([1, 2, 3], [2, 4, 6])).toBeCloseTo(1, 14)
    expect(pearsonCorrelation([0, 1], [5, 3])).toBeCloseTo(-1, 14)
  })

  it('call missing, too few or non-finite numbers a caller mistake', () => {
    expect(() => mean([])).toThrow(RangeError)
    expect(() => mean([1, NaN])).toThrow(RangeError)
    expect(() => sum([Infinity])).toThrow(RangeError)
    expect(() => sampleVariance([1])).toThrow(RangeError)
    expect(() => pearsonCorrelation([1, 2], [1])).toThrow(RangeError)
    expect(() => pearsonCorrelation([1, 2], [1, 2, 3])).toThrow(RangeError)
    expect(() => pearsonCorrelation([1], [1])).toThrow(RangeError)
  })
})
