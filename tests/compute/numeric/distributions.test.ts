import { readFileSync } from 'node:fs'
import fDistribution from '@stdlib/stats-base-dists-f'
import tDistribution from '@stdlib/stats-base-dists-t'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import * as ours from '../../../src/compute/numeric/distributions.ts'

interface Golden {
  readonly normal: { quantiles: [number, number][]; cdf: [number, number][]; twoSided: [number, number][] }
  readonly t: {
    quantiles: [number, number, number][]
    cdf: [number, number, number][]
    twoSided: [number, number, number][]
  }
  readonly chiSquare: { quantiles: [number, number, number][]; cdf: [number, number, number][] }
  readonly f: { quantiles: [number, number, number, number][]; cdf: [number, number, number, number][] }
}
const golden = JSON.parse(readFileSync(new URL('../../golden/distributions.json', import.meta.url), 'utf8')) as Golden

/** Relative difference; a probability that underflows to 0 must be 0 on both sides. */
const relative = (value: number, expected: number): number =>
  value === expected ? 0 : Math.abs(value - expected) / Math.abs(expected)
/** What compute promises. Against 30-digit arithmetic the quantiles are good to some 1e-15. */
const TOLERANCE = 1e-12
const worst = (differences: readonly number[]): number => Math.max(...differences)

describe('distributions against scipy', () => {
  it('agree for the normal distribution function, its two-sided p and its quantiles', () => {
    expect(worst(golden.normal.cdf.map(([x, p]) => relative(ours.normalCdf(x), p)))).toBeLessThan(TOLERANCE)
    expect(worst(golden.normal.twoSided.map(([x, p]) => relative(ours.normalTwoSidedP(x), p)))).toBeLessThan(TOLERANCE)
    expect(worst(golden.normal.quantiles.map(([p, x]) => relative(ours.normalQuantile(p), x)))).toBeLessThan(TOLERANCE)
  })

  it('agree for t, whole and fractional degrees of freedom', () => {
    expect(worst(golden.t.cdf.map(([x, d, p]) => relative(ours.studentTCdf(x, d), p)))).toBeLessThan(TOLERANCE)
    expect(worst(golden.t.twoSided.map(([x, d, p]) => relative(ours.studentTTwoSidedP(x, d), p)))).toBeLessThan(
      TOLERANCE,
    )
    expect(worst(golden.t.quantiles.map(([p, d, x]) => relative(ours.studentTQuantile(p, d), x)))).toBeLessThan(
      TOLERANCE,
    )
  })

  it('agree for chi-square', () => {
    expect(worst(golden.chiSquare.cdf.map(([x, d, p]) => relative(ours.chiSquareCdf(x, d), p)))).toBeLessThan(TOLERANCE)
    expect(
      worst(golden.chiSquare.quantiles.map(([p, d, x]) => relative(ours.chiSquareQuantile(p, d), x))),
    ).toBeLessThan(TOLERANCE)
  })

  it('agree for F', () => {
    expect(worst(golden.f.cdf.map(([x, a, b, p]) => relative(ours.fCdf(x, a, b), p)))).toBeLessThan(TOLERANCE)
    expect(worst(golden.f.quantiles.map(([p, a, b, x]) => relative(ours.fQuantile(p, a, b), x)))).toBeLessThan(
      TOLERANCE,
    )
  })
})

describe('distributions against a registry library', () => {
  it('agree for t and F', () => {
    for (const degrees of [1, 4, 17, 60]) {
      for (const p of [0.01, 0.2, 0.9, 0.975]) {
        expect(relative(ours.studentTQuantile(p, degrees), tDistribution.quantile(p, degrees))).toBeLessThan(1e-10)
        expect(relative(ours.fQuantile(p, 5, degrees), fDistribution.quantile(p, 5, degrees))).toBeLessThan(1e-10)
        expect(relative(ours.studentTCdf(p, degrees), tDistribution.cdf(p, degrees))).toBeLessThan(1e-10)
        expect(relative(ours.fCdf(p, 5, degrees), fDistribution.cdf(p, 5, degrees))).toBeLessThan(1e-10)
      }
    }
  })
})

describe('distributions: closed forms and laws', () => {
  it('give t with one degree of freedom as the Cauchy quantile tan(pi (p - 1/2))', () => {
    for (const p of [0.6, 0.9, 0.999, 0.500001]) {
      // Exact where p - 1/2 is: for p next to the median a library that subtracts loses digits here.
      expect(relative(ours.studentTQuantile(p, 1), Math.tan(Math.PI * (p - 0.5)))).toBeLessThan(1e-13)
    }
  })

  it('give chi-square with two degrees of freedom as the exponential quantile', () => {
    for (const p of [0.001, 0.5, 0.99]) {
      expect(relative(ours.chiSquareQuantile(p, 2), -2 * Math.log1p(-p))).toBeLessThan(1e-13)
    }
  })

  it('square t into F with one numerator degree', () => {
    for (const degrees of [1, 4.5, 30, 1e6]) {
      expect(relative(ours.fQuantile(0.95, 1, degrees), ours.studentTQuantile(0.975, degrees) ** 2)).toBeLessThan(1e-12)
    }
  })

  it('come back from a quantile to its probability', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1e-9, max: 1 - 1e-9, noNaN: true }),
        fc.double({ min: 0.5, max: 1e5, noNaN: true }),
        fc.double({ min: 0.5, max: 1e5, noNaN: true }),
        (p, a, b) => {
          const tail = Math.min(p, 1 - p)
          const close = (value: number): void => expect(Math.abs(value - p)).toBeLessThan(1e-10 * tail + 1e-14)
          close(ours.normalCdf(ours.normalQuantile(p)))
          close(ours.studentTCdf(ours.studentTQuantile(p, a), a))
          close(ours.chiSquareCdf(ours.chiSquareQuantile(p, a), a))
          close(ours.fCdf(ours.fQuantile(p, a, b), a, b))
        },
      ),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('are symmetric where the distribution is, and 0 and 1 at the ends', () => {
    expect(ours.normalCdf(-1.3) + ours.normalCdf(1.3)).toBeCloseTo(1, 15)
    expect(ours.studentTQuantile(0.25, 7)).toBe(-ours.studentTQuantile(0.75, 7))
    expect(ours.normalQuantile(0.5)).toBe(0)
    expect(ours.studentTQuantile(0.5, 3)).toBe(0)
    expect(ours.normalCdf(-Infinity)).toBe(0)
    expect(ours.normalCdf(Infinity)).toBe(1)
    expect(ours.studentTCdf(Infinity, 3)).toBe(1)
    expect(ours.studentTCdf(-1e200, 3)).toBe(0)
    expect(ours.fCdf(Infinity, 2, 3)).toBe(1)
    expect(ours.fCdf(-1, 2, 3)).toBe(0)
    expect(ours.fCdf(-Infinity, 2, 3)).toBe(0)
    expect(ours.fCdf(0, 2, 3)).toBe(0)
    expect(ours.chiSquareCdf(0, 3)).toBe(0)
    expect(ours.normalCdf(0)).toBe(0.5)
    expect(ours.studentTCdf(0, 3)).toBe(0.5)
    expect(ours.chiSquareCdf(-1, 2)).toBe(0)
    expect(ours.chiSquareCdf(Infinity, 2)).toBe(1)
  })

  it('call NaN, probabilities outside (0, 1) and impossible degrees of freedom a caller mistake', () => {
    for (const p of [0, 1, -0.1, 1.1, NaN]) {
      expect(() => ours.normalQuantile(p)).toThrow(RangeError)
      expect(() => ours.studentTQuantile(p, 3)).toThrow(RangeError)
      expect(() => ours.chiSquareQuantile(p, 3)).toThrow(RangeError)
      expect(() => ours.fQuantile(p, 3, 3)).toThrow(RangeError)
    }
    for (const degrees of [0, -1, NaN, Infinity]) {
      expect(() => ours.studentTCdf(1, degrees)).toThrow(RangeError)
      expect(() => ours.studentTTwoSidedP(1, degrees)).toThrow(RangeError)
      expect(() => ours.chiSquareCdf(1, degrees)).toThrow(RangeError)
      expect(() => ours.fCdf(1, 2, degrees)).toThrow(RangeError)
      expect(() => ours.fCdf(1, degrees, 2)).toThrow(RangeError)
      expect(() => ours.studentTQuantile(0.9, degrees)).toThrow(RangeError)
      expect(() => ours.chiSquareQuantile(0.9, degrees)).toThrow(RangeError)
      expect(() => ours.fQuantile(0.9, degrees, 2)).toThrow(RangeError)
      expect(() => ours.fQuantile(0.9, 2, degrees)).toThrow(RangeError)
    }
    expect(() => ours.normalCdf(NaN)).toThrow(RangeError)
    expect(() => ours.normalTwoSidedP(NaN)).toThrow(RangeError)
    expect(() => ours.studentTCdf(NaN, 2)).toThrow(RangeError)
    expect(() => ours.studentTTwoSidedP(NaN, 2)).toThrow(RangeError)
    expect(() => ours.fCdf(NaN, 2, 2)).toThrow(RangeError)
    expect(() => ours.chiSquareCdf(NaN, 2)).toThrow(RangeError)
  })
})
