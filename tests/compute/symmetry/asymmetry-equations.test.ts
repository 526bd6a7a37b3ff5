import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  asymmetry,
  asymmetryAgainstVariation,
  ASYMMETRY_EQUATIONS,
  directionAgreement,
  type AsymmetryEquation,
  type AsymmetryInput,
} from '../../../src/compute/index.ts'

const pair = (left: number, right: number, reference: AsymmetryInput['reference'] = 'stronger'): AsymmetryInput => ({
  left: { value: left },
  right: { value: right },
  reference,
  betterWhen: 'higher',
})
const torque = fc.double({ min: 1, max: 500, noNaN: true })
const equations = ASYMMETRY_EQUATIONS.map((facts) => facts.equation)

describe('published asymmetry equations (Bishop 2016, Strength Cond J 38(6):27-32), 25 against 20', () => {
  it.each<[AsymmetryEquation, number, number]>([
    ['limb_symmetry_ratio', 80, 20],
    ['bilateral_strength_asymmetry', 20, 20],
    ['bilateral_asymmetry_index_2', 22.2222, 22.2222],
    ['bilateral_asymmetry_index_1', 11.1111, 11.1111],
    ['asymmetry_index_as_printed', 14.2857, 14.2857],
    ['symmetry_angle', 7.0447, 7.0447],
  ])('%s is %f', (equation, value, magnitude) => {
    const answer = asymmetry(equation, pair(25, 20))
    expect(answer.valuePct.value).toBeCloseTo(value, 4)
    expect(answer.magnitudePct.value).toBeCloseTo(magnitude, 4)
    expect(answer.strongerSide).toBe('left')
  })

  it('the symmetry angle changes sign, not size, when the weaker limb is the reference', () => {
    expect(asymmetry('symmetry_angle', pair(25, 20, 'right'))).toMatchObject({ strongerSide: 'left' })
    expect(asymmetry('symmetry_angle', pair(25, 20, 'right')).valuePct.value).toBeCloseTo(-7.0447, 4)
    expect(asymmetry('symmetry_angle', pair(25, 20, 'right')).magnitudePct.value).toBeCloseTo(7.0447, 4)
  })

  it('the percentage difference keeps 20 and is negative when the reference is the weaker limb (Bishop 2018)', () => {
    expect(asymmetry('bilateral_strength_asymmetry', pair(25, 20, 'right')).valuePct.value).toBe(-20)
    expect(asymmetry('bilateral_strength_asymmetry', pair(25, 20, 'left')).valuePct.value).toBe(20)
  })

  it('the choice of reference changes the size of exactly the equations said to (Parkinson 2021)', () => {
    for (const { equation, sizeFreeOfReference } of ASYMMETRY_EQUATIONS) {
      const left = asymmetry(equation, pair(25, 20, 'left')).magnitudePct.value as number
      const right = asymmetry(equation, pair(25, 20, 'right')).magnitudePct.value as number
      expect(Math.abs(left - right) < 1e-9, equation).toBe(sizeFreeOfReference)
    }
  })
})

describe('asymmetry: laws', () => {
  it('swapping the sides keeps the size and turns the direction, for every equation', () => {
    fc.assert(
      fc.property(fc.constantFrom(...equations), torque, torque, (equation, left, right) => {
        const here = asymmetry(equation, pair(left, right))
        const there = asymmetry(equation, pair(right, left))
        expect(there.magnitudePct).toEqual(here.magnitudePct)
        expect(there.strongerSide).toBe(
          here.strongerSide === 'equal' ? 'equal' : here.strongerSide === 'left' ? 'right' : 'left',
        )
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })

  it('a common unit changes nothing', () => {
    fc.assert(
      fc.property(fc.constantFrom(...equations), torque, torque, (equation, left, right) => {
        const here = asymmetry(equation, pair(left, right)).valuePct.value as number
        const there = asymmetry(equation, pair(1.3558179483314004 * left, 1.3558179483314004 * right)).valuePct.value
        expect(there).toBeCloseTo(here, 9)
      }),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('equal limbs show none', () => {
    for (const equation of equations) {
      expect(asymmetry(equation, pair(20, 20))).toMatchObject({ magnitudePct: { value: 0 }, strongerSide: 'equal' })
    }
  })

  it('for a timed test the faster limb is the stronger one, with the size of the inverted times', () => {
    for (const equation of equations) {
      const times = asymmetry(equation, { ...pair(2, 2.5), betterWhen: 'lower' })
      const speeds = asymmetry(equation, pair(1 / 2, 1 / 2.5))
      expect(times.strongerSide).toBe('left')
      expect(times.magnitudePct.value).toBeCloseTo(speeds.magnitudePct.value as number, 10)
    }
  })

  it('says why there is none, and lets no NaN out', () => {
    const missing = { value: null, reason: 'aborted' } as const
    expect(asymmetry('symmetry_angle', { ...pair(1, 2), left: missing })).toEqual({
      valuePct: missing,
      magnitudePct: missing,
      strongerSide: null,
    })
    expect(asymmetry('symmetry_angle', { ...pair(1, 2), right: missing }).valuePct).toEqual(missing)
    expect(asymmetry('symmetry_angle', pair(0, 2)).valuePct).toEqual({ value: null, reason: 'zero_denominator' })
    expect(asymmetry('symmetry_angle', pair(2, 0)).valuePct).toEqual({ value: null, reason: 'zero_denominator' })
    expect(asymmetry('symmetry_angle', pair(2, -1)).valuePct).toEqual({ value: null, reason: 'negative_value' })
    expect(asymmetry('symmetry_angle', pair(-2, 1)).valuePct).toEqual({ value: null, reason: 'negative_value' })
    expect(asymmetry('limb_symmetry_ratio', pair(1e-320, 1e300, 'left')).valuePct).toEqual({
      value: null,
      reason: 'zero_denominator',
    })
    expect(() => asymmetry('symmetry_angle', pair(NaN, 1))).toThrow(RangeError)
    expect(() => asymmetry('symmetry_angle', pair(1, Infinity))).toThrow(RangeError)
  })
})

describe('direction and variation', () => {
  it('count how often the direction agreed, apart from the size', () => {
    const first = ['left', 'right', 'right', 'left', null, 'left', 'equal'] as const
    const second = ['left', 'left', 'right', 'equal', 'left', null, 'equal'] as const
    expect(directionAgreement(first, second)).toEqual({
      same: 2,
      opposite: 1,
      cannotTell: 4,
      proportionSame: 2 / 3,
    })
    expect(directionAgreement(['equal'], ['left']).proportionSame).toBeNull()
    expect(() => directionAgreement(['left'], [])).toThrow(RangeError)
  })

  it('an asymmetry within the larger variation of the limbs is not more than that (Exell, in Bishop 2016)', () => {
    expect(asymmetryAgainstVariation(20, { value: 4 }, { value: 6 })).toBe('exceeds_variation')
    expect(asymmetryAgainstVariation(6, { value: 4 }, { value: 6 })).toBe('within_variation')
    expect(asymmetryAgainstVariation(6, { value: null, reason: 'one_repetition' }, { value: 6 })).toBe('undetermined')
    expect(asymmetryAgainstVariation(6, { value: 6 }, { value: null, reason: 'one_repetition' })).toBe('undetermined')
    expect(asymmetryAgainstVariation(0, { value: 0 }, { value: 0 })).toBe('within_variation')
    expect(() => asymmetryAgainstVariation(-1, { value: 4 }, { value: 6 })).toThrow(RangeError)
    expect(() => asymmetryAgainstVariation(1, { value: -4 }, { value: -6 })).toThrow(RangeError)
  })
})
