import fc from 'fast-check'
import { linearRegression } from 'simple-statistics'
import { describe, expect, it } from 'vitest'
import { fitLine, leastSquares, studentTTwoSidedP } from '../../../src/compute/index.ts'

const deg = Math.PI / 180

describe('least squares', () => {
  it('recover A cos + B sin exactly from exact data', () => {
    const angles = [0, 15, 30, 45, 60, 75, 90].map((angle) => angle * deg)
    const fit = leastSquares(
      angles.map((angle) => [Math.cos(angle), Math.sin(angle)]),
      angles.map((angle) => 12 * Math.cos(angle) - 2 * Math.sin(angle)),
    )
    expect(fit?.coefficients[0]).toBeCloseTo(12, 12)
    expect(fit?.coefficients[1]).toBeCloseTo(-2, 12)
    expect(fit?.residualSumOfSquares).toBeLessThan(1e-24)
    expect(fit?.degreesOfFreedom).toBe(5)
  })

  it('agree with the straight-line formulas: coefficients, residuals and the variance factor 1 / Sxx of the slope', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: -50, max: 50 }), fc.double({ min: -300, max: 300, noNaN: true })), {
          minLength: 3,
          maxLength: 12,
        }),
        (points) => {
          const x = points.map(([value]) => value)
          const y = points.map(([, value]) => value)
          const line = fitLine(x, y)
          const fit = leastSquares(
            x.map((value) => [1, value]),
            y,
          )
          fc.pre(line !== null && fit !== null)
          const other = linearRegression(points)
          expect(line.slope).toBeCloseTo(other.m, 7)
          expect(line.intercept).toBeCloseTo(other.b, 6)
          expect(fit.coefficients[1]).toBeCloseTo(line.slope, 8)
          expect(fit.coefficients[0]).toBeCloseTo(line.intercept, 7)
          expect(fit.residualSumOfSquares).toBeCloseTo(line.residualSumOfSquares, 4)
          expect((fit.varianceFactors[1] as number) * line.sxx).toBeCloseTo(1, 8)
        },
      ),
      { seed: 20261125, numRuns: 200 },
    )
  })

  it('fit months 3 to 6 with 110, 128, 139, 161 N.m: slope 16.4, intercept 60.7, Sxx 5, residual SD 3.1780, p .00743', () => {
    const line = fitLine([3, 4, 5, 6], [110, 128, 139, 161])!
    expect(line.slope).toBeCloseTo(16.4, 10)
    expect(line.intercept).toBeCloseTo(60.7, 10)
    expect(line).toMatchObject({ sxx: 5, degreesOfFreedom: 2 })
    const residualSd = Math.sqrt(line.residualSumOfSquares / line.degreesOfFreedom)
    expect(residualSd).toBeCloseTo(3.178, 4)
    const t = line.slope / (residualSd / Math.sqrt(line.sxx))
    expect(t).toBeCloseTo(11.539, 3)
    expect(studentTTwoSidedP(t, line.degreesOfFreedom)).toBeCloseTo(0.00743, 5)
  })

  it('keep ten digits where the normal equations would lose them', () => {
    // Two nearly parallel columns: condition number 1e7, squared 1e14.
    const rows = [0, 1, 2, 3].map((i) => [1, 1 + 1e-7 * i])
    const fit = leastSquares(
      rows,
      rows.map(([a, b]) => 3 * (a as number) + 5 * (b as number)),
    )
    expect(fit?.coefficients[0]).toBeCloseTo(3, 7)
    expect(fit?.coefficients[1]).toBeCloseTo(5, 7)
  })

  it('answer null where the data do not determine the coefficients', () => {
    expect(leastSquares([[1, 2]], [1])).toBeNull()
    expect(
      leastSquares(
        [
          [1, 2],
          [2, 4],
          [3, 6],
        ],
        [1, 2, 3],
      ),
    ).toBeNull()
    expect(leastSquares([[0], [0]], [1, 2])).toBeNull()
    expect(fitLine([4, 4, 4], [1, 2, 3])).toBeNull()
    expect(fitLine([1, 2], [1, 3])).toMatchObject({ slope: 2, intercept: -1, degreesOfFreedom: 0 })
    // parallel columns are parallel in whatever unit
    expect(
      leastSquares(
        [
          [1e-3, 1e-3],
          [1e-3, 1e-3],
          [2e-3, 2e-3],
        ],
        [1, 2, 3],
      ),
    ).toBeNull()
  })

  it('call ragged, unequal or non-finite input a caller mistake', () => {
    expect(() => leastSquares([[1], [1, 2]], [1, 2])).toThrow(RangeError)
    expect(() => leastSquares([[1]], [1, 2])).toThrow(RangeError)
    expect(() => leastSquares([], [])).toThrow(RangeError)
    expect(() => leastSquares([[NaN]], [1])).toThrow(RangeError)
    expect(() => fitLine([1], [1])).toThrow(RangeError)
    expect(() => fitLine([1, 2], [1])).toThrow(RangeError)
    expect(() => fitLine([1, 2], [1, 2, 3])).toThrow(RangeError)
    expect(() => fitLine([1, 2], [1, NaN])).toThrow(RangeError)
  })
})
