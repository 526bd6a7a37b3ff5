import { describe, expect, it } from 'vitest'
import {
  chancesOfChange,
  convert,
  minimalDetectableChange,
  percentChangeLimits,
  smallestWorthwhileChange,
  standardErrorOfMeanOfRepetitions,
  standardErrorOfMeasurementFromIcc,
  standardErrorOfMeasurementInterval,
  twoSidedCriticalValue,
} from '../../../src/compute/index.ts'

// Printed values round the normal quantile to 1.96 and 1.645; ours is not rounded: they differ by up to 1 in 10,000.
const asPrinted = (value: number, printed: number): void =>
  expect(Math.abs(value - printed) / printed).toBeLessThan(1e-4)

describe('minimal detectable change', () => {
  it('of a SEM of 9.5 N.m is 26.33 at 95 % and 22.10 at 90 %', () => {
    asPrinted(minimalDetectableChange(9.5, 0.95), 26.3327)
    asPrinted(minimalDetectableChange(9.5, 0.9), 22.1006)
  })

  it('reproduces the printed pairs 2.54 to 7.04 and 6.93 to 19.22 % (Kambic 2020, PLoS ONE 15:e0237842)', () => {
    // The paper's SEMs are rounded to two decimals, so its changes agree to about 0.015.
    expect(Math.abs(minimalDetectableChange(2.54, 0.95) - 7.04)).toBeLessThan(0.015)
    expect(Math.abs(minimalDetectableChange(6.93, 0.95) - 19.22)).toBeLessThan(0.015)
  })

  it('is 26.31 and 11.27 N.m for 7.0 and 3.0 lbf.ft (McCleary & Andersen 1992), 21.1 to 29.1 for 7.6 to 10.5 N.m (2023)', () => {
    const inNm = (footPounds: number): number => convert(footPounds, '[ft_i].[lbf_av]', 'N.m')
    expect(minimalDetectableChange(inNm(7), 0.95)).toBeCloseTo(26.31, 2)
    expect(minimalDetectableChange(inNm(3), 0.95)).toBeCloseTo(11.27, 2)
    expect(minimalDetectableChange(7.6, 0.95)).toBeCloseTo(21.1, 1)
    expect(minimalDetectableChange(10.5, 0.95)).toBeCloseTo(29.1, 1)
  })

  it('is linear in the SEM, 0 for none, and refuses nonsense', () => {
    expect(minimalDetectableChange(19, 0.95)).toBeCloseTo(2 * minimalDetectableChange(9.5, 0.95), 12)
    expect(minimalDetectableChange(0, 0.95)).toBe(0)
    expect(() => minimalDetectableChange(-1, 0.95)).toThrow(RangeError)
    expect(() => minimalDetectableChange(NaN, 0.95)).toThrow(RangeError)
    expect(() => minimalDetectableChange(Infinity, 0.95)).toThrow('sem is finite and not negative, got Infinity')
    for (const confidence of [0, 1, 95, NaN]) {
      expect(() => minimalDetectableChange(1, confidence)).toThrow('confidence lies between 0 and 1')
    }
  })

  it('in percent is asymmetric: CV 5 % gives +14.48 and -12.65 %', () => {
    const { lowPct, highPct } = percentChangeLimits(5, 0.95)
    expect(highPct).toBeCloseTo(14.48, 2)
    expect(lowPct).toBeCloseTo(-12.65, 2)
    expect((1 + lowPct / 100) * (1 + highPct / 100)).toBeCloseTo(1, 12)
    expect(percentChangeLimits(5, 0.95, 10).highPct).toBeGreaterThan(highPct)
  })

  it('has a wider critical value for a SEM estimated from few pairs', () => {
    expect(twoSidedCriticalValue(0.95, null)).toBeCloseTo(1.959964, 6)
    expect(twoSidedCriticalValue(0.95, 4)).toBeCloseTo(2.776445, 6)
    // Asked again after hundreds of others, the answer is the same.
    for (let degrees = 1; degrees <= 300; degrees++) twoSidedCriticalValue(0.9, degrees)
    expect(twoSidedCriticalValue(0.95, 4)).toBeCloseTo(2.776445, 6)
    expect(twoSidedCriticalValue(0.9, 4)).toBeCloseTo(2.131847, 6)
    expect(() => twoSidedCriticalValue(0.95, 0)).toThrow(RangeError)
  })
})

describe('standard error of measurement', () => {
  it('from SD 45 and ICC .95 is 10.0623, with a detectable change of 27.89', () => {
    const sem = standardErrorOfMeasurementFromIcc(45, 0.95)
    expect(sem).toBeCloseTo(10.0623, 4)
    asPrinted(minimalDetectableChange(sem, 0.95), 27.8913)
  })

  it('is 0 for a perfect ICC and above the SD for a negative one', () => {
    expect(standardErrorOfMeasurementFromIcc(45, 1)).toBe(0)
    expect(standardErrorOfMeasurementFromIcc(45, -0.2)).toBeGreaterThan(45)
    expect(() => standardErrorOfMeasurementFromIcc(45, 1.01)).toThrow(RangeError)
    expect(() => standardErrorOfMeasurementFromIcc(45, NaN)).toThrow(RangeError)
    expect(() => standardErrorOfMeasurementFromIcc(45, -1.01)).toThrow('an ICC lies between -1 and 1, got -1.01')
    expect(standardErrorOfMeasurementFromIcc(45, -1)).toBeCloseTo(45 * Math.SQRT2, 12)
    expect(() => standardErrorOfMeasurementFromIcc(-1, 0.5)).toThrow('betweenSubjectSd')
  })

  it('has an interval by chi-square: 10 degrees x0.70 to x1.75, 30 degrees x0.80 to x1.34', () => {
    const ten = standardErrorOfMeasurementInterval(1, 10, 0.95)
    expect([ten.low, ten.high].map((value) => value.toFixed(2))).toEqual(['0.70', '1.75'])
    const thirty = standardErrorOfMeasurementInterval(1, 30, 0.95)
    expect([thirty.low, thirty.high].map((value) => value.toFixed(2))).toEqual(['0.80', '1.34'])
    expect(() => standardErrorOfMeasurementInterval(1, 10, 0)).toThrow('confidence lies between 0 and 1')
    expect(() => standardErrorOfMeasurementInterval(-1, 10, 0.95)).toThrow('sem is finite and not negative')
  })

  it('of a mean of three repetitions stays as it is unless independence within the session is declared', () => {
    expect(standardErrorOfMeanOfRepetitions(9.5, 3)).toEqual({
      sem: 9.5,
      applied: false,
      reason: 'between_session_error_does_not_shrink',
    })
    const declared = standardErrorOfMeanOfRepetitions(9.5, 3, { independentAndWithinSession: true })
    expect(declared.sem).toBeCloseTo(5.4848, 4)
    expect(declared).toMatchObject({ applied: true, reason: 'declared_independent_within_session' })
    expect(standardErrorOfMeanOfRepetitions(9.5, 1).sem).toBe(9.5)
    expect(() => standardErrorOfMeanOfRepetitions(-1, 3)).toThrow('sem is finite and not negative')
    expect(() => standardErrorOfMeanOfRepetitions(9.5, 0)).toThrow(RangeError)
    expect(() => standardErrorOfMeanOfRepetitions(9.5, 2.5)).toThrow(RangeError)
  })
})

describe('smallest worthwhile change (Hopkins 2000, Sports Med 30:1-15)', () => {
  it('is a fifth of the SD between subjects', () => {
    expect(smallestWorthwhileChange(45)).toBe(9)
    expect(() => smallestWorthwhileChange(-1)).toThrow(RangeError)
  })

  it('gives the chances of a change of 25 with typical error 9.5: .8832 above, .0057 below', () => {
    const chances = chancesOfChange({ observedChange: 25, typicalError: 9.5, smallestWorthwhile: 9 })
    expect(chances.aboveSmallestWorthwhile).toBeCloseTo(0.8832, 4)
    expect(chances.belowMinusSmallestWorthwhile).toBeCloseTo(0.0057, 4)
    expect(chances.aboveSmallestWorthwhile + chances.trivial + chances.belowMinusSmallestWorthwhile).toBeCloseTo(1, 12)
  })

  it('mirrors with the sign of the change', () => {
    const up = chancesOfChange({ observedChange: 7, typicalError: 4, smallestWorthwhile: 3 })
    const down = chancesOfChange({ observedChange: -7, typicalError: 4, smallestWorthwhile: 3 })
    expect(down.belowMinusSmallestWorthwhile).toBeCloseTo(up.aboveSmallestWorthwhile, 14)
    expect(() => chancesOfChange({ observedChange: 7, typicalError: 0, smallestWorthwhile: 3 })).toThrow(RangeError)
    expect(() => chancesOfChange({ observedChange: NaN, typicalError: 1, smallestWorthwhile: 3 })).toThrow(RangeError)
    expect(() => chancesOfChange({ observedChange: 1, typicalError: 1, smallestWorthwhile: -3 })).toThrow(
      'smallestWorthwhile is finite and not negative',
    )
    for (const observedChange of [Infinity, -Infinity, NaN]) {
      expect(() => chancesOfChange({ observedChange, typicalError: 1, smallestWorthwhile: 3 })).toThrow(
        'observedChange is a finite number',
      )
    }
    expect(() => chancesOfChange({ observedChange: 1, typicalError: Infinity, smallestWorthwhile: 3 })).toThrow(
      'typicalError is positive',
    )
  })
})
