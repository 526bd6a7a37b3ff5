import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  angleSpecificRatio,
  conventionalRatio,
  functionalRatio,
  groupRatio,
  mixedRatio,
  percentageDifference,
  RATIO_OF_MEANS_TOLERANCE,
  ratioStandardDeviationIsPlausible,
  type GravityState,
  type Measured,
  type RatioTorque,
} from '../../../src/compute/index.ts'

const concentric = (torqueNm: number, velocityDegS = 60, gravityCorrected: GravityState = 'yes'): RatioTorque => ({
  torqueNm: { value: torqueNm },
  contractionMode: 'isokinetic_concentric',
  velocityDegS,
  gravityCorrected,
})
const eccentric = (torqueNm: number, velocityDegS = 60): RatioTorque => ({
  ...concentric(torqueNm, velocityDegS),
  contractionMode: 'isokinetic_eccentric',
})
const torque = fc.double({ min: 1, max: 500, noNaN: true })

describe('strength ratios of a published cohort (Fousekis 2010, J Sports Sci Med 9:364, table 3, PTA 5-7 y, n = 34)', () => {
  it.each<[string, () => Measured, number, number]>([
    ['right conventional 60', () => conventionalRatio(concentric(133), concentric(236)), 0.5636, 0.56],
    ['right conventional 180', () => conventionalRatio(concentric(103, 180), concentric(165, 180)), 0.6242, 0.62],
    ['right conventional 300', () => conventionalRatio(concentric(92, 300), concentric(133, 300)), 0.6917, 0.69],
    ['right functional 60', () => functionalRatio(eccentric(184), concentric(236)), 0.7797, 0.78],
    ['right functional 180', () => functionalRatio(eccentric(180, 180), concentric(165, 180)), 1.0909, 1.09],
    ['left conventional 60', () => conventionalRatio(concentric(126), concentric(227)), 0.5551, 0.55],
    ['left conventional 180', () => conventionalRatio(concentric(96, 180), concentric(161, 180)), 0.5963, 0.59],
    ['left conventional 300', () => conventionalRatio(concentric(87, 300), concentric(132, 300)), 0.6591, 0.66],
    ['left functional 60', () => functionalRatio(eccentric(183), concentric(227)), 0.8062, 0.8],
    ['left functional 180', () => functionalRatio(eccentric(179, 180), concentric(161, 180)), 1.1118, 1.11],
  ])('%s: the ratio of the printed means is near the printed mean of ratios', (_name, ratio, ofMeans, printed) => {
    const { value } = ratio()
    expect(value).toBeCloseTo(ofMeans, 4)
    expect(Math.abs((value as number) - printed)).toBeLessThan(RATIO_OF_MEANS_TOLERANCE)
  })

  it('the same cohort: ankle dorsiflexors over plantar flexors .22; extension at 180 over 60 deg/s .699', () => {
    expect(conventionalRatio(concentric(24), concentric(111)).value?.toFixed(2)).toBe('0.22')
    expect(groupRatio([165], [236])).toMatchObject({ meanOfRatios: expect.closeTo(0.699, 3) as number })
  })

  it('a printed SD of .80 or .70 beside such a ratio is a slipped decimal', () => {
    expect(ratioStandardDeviationIsPlausible(0.8)).toBe(false)
    expect(ratioStandardDeviationIsPlausible(0.7)).toBe(false)
    expect(ratioStandardDeviationIsPlausible(0.08)).toBe(true)
    expect(ratioStandardDeviationIsPlausible(0.5)).toBe(true)
    expect(ratioStandardDeviationIsPlausible(0)).toBe(true)
    expect(ratioStandardDeviationIsPlausible(-0.1)).toBe(false)
    expect(ratioStandardDeviationIsPlausible(NaN)).toBe(false)
  })
})

describe('strength ratios of a single case (Orthop J Sports Med 2017, PMC5638169 table 1)', () => {
  const modes = [
    ['concentric 90', 241.1, 250.7, 177.6, 141.4, 3.98, -20.38, 0.7366, 0.564],
    ['concentric 180', 202.3, 196.1, 150.7, 127.0, -3.06, -15.73, 0.7449, 0.6476],
    ['concentric 240', 172.2, 170.2, 145.2, 126.1, -1.16, -13.15, 0.8432, 0.7409],
    ['eccentric 30', 279.0, 322.6, 174.1, 202.6, 15.63, 16.37, 0.624, 0.628],
  ] as const

  it.each(modes)('%s: signed difference from the other leg, whatever the caption says', (_n, q, qi, h, hi, dq, dh) => {
    expect(percentageDifference(qi, q).value).toBeCloseTo(dq, 2)
    expect(percentageDifference(hi, h).value).toBeCloseTo(dh, 2)
  })

  it.each(modes.slice(0, 3))(
    '%s: flexors over extensors of both legs',
    (_n, q, qi, h, hi, _dq, _dh, healthy, injured) => {
      expect(conventionalRatio(concentric(h), concentric(q)).value).toBeCloseTo(healthy, 4)
      expect(conventionalRatio(concentric(hi), concentric(qi)).value).toBeCloseTo(injured, 4)
    },
  )

  it('eccentric 30: flexors over extensors are .6240 and .6280, a ratio no name of the literature covers', () => {
    expect(groupRatio([174.1], [279.0])).toMatchObject({ meanOfRatios: expect.closeTo(0.624, 4) as number })
    expect(groupRatio([202.6], [322.6])).toMatchObject({ meanOfRatios: expect.closeTo(0.628, 4) as number })
  })

  it('has no difference from a reference of nothing', () => {
    expect(percentageDifference(1, 0)).toEqual({ value: null, reason: 'zero_denominator' })
    expect(() => percentageDifference(NaN, 1)).toThrow(RangeError)
    expect(() => percentageDifference(1, Infinity)).toThrow(RangeError)
  })
})

describe('mixed ratio (Croisier 2008, Am J Sports Med 36:1469-75)', () => {
  it('of 120 and 160 N.m is .75, below .80; conventional 100 over 220 is .4545, below .47', () => {
    expect(mixedRatio(eccentric(120, 30), concentric(160, 240))).toEqual({ value: 0.75 })
    expect(conventionalRatio(concentric(100), concentric(220)).value).toBeCloseTo(0.4545, 4)
  })

  it('is defined for 30 deg/s eccentric over 240 deg/s concentric and nothing else', () => {
    expect(() => mixedRatio(eccentric(120, 60), concentric(160, 240))).toThrow(RangeError)
    expect(() => mixedRatio(eccentric(120, 30), concentric(160, 180))).toThrow(RangeError)
    expect(() => mixedRatio(concentric(120, 30), concentric(160, 240))).toThrow(RangeError)
    expect(() => mixedRatio(eccentric(120, 30), eccentric(160, 240))).toThrow(RangeError)
  })
})

describe('strength ratios: what they refuse', () => {
  it('another mode or unequal velocities are a caller mistake', () => {
    expect(() => conventionalRatio(eccentric(100), concentric(200))).toThrow(RangeError)
    expect(() => conventionalRatio(concentric(100), eccentric(200))).toThrow(RangeError)
    expect(() => conventionalRatio(concentric(100, 60), concentric(200, 180))).toThrow(RangeError)
    expect(() => functionalRatio(concentric(100), concentric(200))).toThrow(RangeError)
    expect(() => functionalRatio(eccentric(100), eccentric(200))).toThrow(RangeError)
    expect(() => functionalRatio(eccentric(100, 30), concentric(200, 60))).toThrow(RangeError)
    expect(() => functionalRatio(eccentric(100), concentric(200), 'concentric_over_eccentric')).toThrow(RangeError)
  })

  it('the functional flexion ratio puts the concentric flexors above', () => {
    expect(functionalRatio(concentric(90), eccentric(300), 'concentric_over_eccentric')).toEqual({ value: 0.3 })
  })

  it.each<[GravityState, GravityState, string]>([
    ['no', 'no', 'not_gravity_corrected'],
    ['yes', 'no', 'gravity_state_differs'],
    ['no', 'yes', 'gravity_state_differs'],
    ['unknown', 'yes', 'gravity_correction_unknown'],
    ['no', 'unknown', 'gravity_correction_unknown'],
  ])('gravity %s over %s gives no ratio: %s', (first, second, reason) => {
    expect(conventionalRatio(concentric(100, 60, first), concentric(200, 60, second))).toEqual({ value: null, reason })
  })

  it('movements across gravity need no correction', () => {
    expect(conventionalRatio(concentric(100, 60, 'not_needed'), concentric(200, 60, 'not_needed'))).toEqual({
      value: 0.5,
    })
  })

  it('a missing, zero or negative torque is a reason; a non-finite one a caller mistake', () => {
    const missing: Measured = { value: null, reason: 'no_load_range' }
    expect(conventionalRatio({ ...concentric(1), torqueNm: missing }, concentric(2))).toEqual(missing)
    expect(conventionalRatio(concentric(1), { ...concentric(2), torqueNm: missing })).toEqual(missing)
    expect(conventionalRatio(concentric(0), concentric(2))).toEqual({ value: 0 })
    expect(conventionalRatio(concentric(1), concentric(0))).toEqual({ value: null, reason: 'zero_denominator' })
    expect(conventionalRatio(concentric(-1), concentric(2))).toEqual({ value: null, reason: 'negative_value' })
    expect(conventionalRatio(concentric(1), concentric(-2))).toEqual({ value: null, reason: 'negative_value' })
    expect(conventionalRatio(concentric(1e300), concentric(1e-300)).value).toBeNull()
    expect(() => conventionalRatio(concentric(NaN), concentric(2))).toThrow(RangeError)
    expect(() => conventionalRatio(concentric(1), concentric(Infinity))).toThrow(RangeError)
  })

  it('swapping the movements gives the reciprocal, and a common unit changes nothing', () => {
    fc.assert(
      fc.property(torque, torque, (a, b) => {
        const there = conventionalRatio(concentric(a), concentric(b)).value as number
        const back = conventionalRatio(concentric(b), concentric(a)).value as number
        const scaled = conventionalRatio(concentric(7 * a), concentric(7 * b)).value as number
        expect(there * back).toBeCloseTo(1, 12)
        expect(scaled / there).toBeCloseTo(1, 12)
      }),
      { seed: 20261125, numRuns: 300 },
    )
  })
})

describe('angle-specific ratio', () => {
  const at = (torqueNm: number, angleDeg: number) => ({ ...concentric(torqueNm), angleDeg })
  const peak: Measured = { value: 200 }

  it('divides torques at the same angle', () => {
    expect(angleSpecificRatio({ antagonist: at(60, 40), agonist: at(120, 40), agonistPeakTorqueNm: peak })).toEqual({
      value: 0.5,
    })
    expect(() =>
      angleSpecificRatio({ antagonist: at(60, 40), agonist: at(120, 50), agonistPeakTorqueNm: peak }),
    ).toThrow(RangeError)
  })

  it('gives none where the denominator is small against the peak: near extension the ratio explodes (Kellis 2007)', () => {
    const near = (torqueNm: number, agonistPeakTorqueNm: Measured = peak) =>
      angleSpecificRatio({ antagonist: at(78, 5), agonist: at(torqueNm, 5), agonistPeakTorqueNm })
    expect(near(25)).toEqual({ value: null, reason: 'denominator_too_small' })
    expect(near(39.999)).toEqual({ value: null, reason: 'denominator_too_small' })
    expect(near(40)).toEqual({ value: 1.95 })
    expect(near(9.9, { value: 30 })).toEqual({ value: null, reason: 'denominator_too_small' })
    expect(near(10, { value: 30 }).value).toBeCloseTo(7.8, 10)
  })

  it('passes on reasons: outside the load range, no peak, gravity', () => {
    const outside: Measured = { value: null, reason: 'outside_load_range' }
    expect(
      angleSpecificRatio({
        antagonist: { ...at(60, 10), torqueNm: outside },
        agonist: at(120, 10),
        agonistPeakTorqueNm: peak,
      }),
    ).toEqual(outside)
    expect(
      angleSpecificRatio({
        antagonist: at(60, 10),
        agonist: { ...at(120, 10), torqueNm: outside },
        agonistPeakTorqueNm: peak,
      }),
    ).toEqual(outside)
    expect(angleSpecificRatio({ antagonist: at(60, 10), agonist: at(120, 10), agonistPeakTorqueNm: outside })).toEqual(
      outside,
    )
    expect(
      angleSpecificRatio({
        antagonist: { ...at(60, 10), gravityCorrected: 'unknown' },
        agonist: at(120, 10),
        agonistPeakTorqueNm: peak,
      }),
    ).toEqual({ value: null, reason: 'gravity_correction_unknown' })
  })

  it('takes its guard as a parameter and refuses an impossible one', () => {
    const guarded = (minimumNm: number, minimumShareOfPeak: number) =>
      angleSpecificRatio({
        antagonist: at(10, 5),
        agonist: at(20, 5),
        agonistPeakTorqueNm: peak,
        guard: { minimumNm, minimumShareOfPeak },
      })
    expect(guarded(0, 0)).toEqual({ value: 0.5 })
    expect(guarded(0, 0.1)).toEqual({ value: 0.5 })
    expect(guarded(0, 1).value).toBeNull()
    expect(() => guarded(-1, 0)).toThrow(RangeError)
    expect(() => guarded(0, -0.1)).toThrow(RangeError)
    expect(() => guarded(0, 1.1)).toThrow(RangeError)
  })
})

describe('ratio of a group', () => {
  it('is the mean of each person, with SD (n - 1), beside the ratio of the means', () => {
    expect(groupRatio([50, 90], [100, 150])).toEqual({
      n: 2,
      meanOfRatios: expect.closeTo(0.55, 12) as number,
      standardDeviation: expect.closeTo(0.1 / Math.SQRT2, 12) as number,
      ratioOfMeans: 0.56,
    })
    expect(groupRatio([50], [100])).toMatchObject({ meanOfRatios: 0.5, standardDeviation: null })
  })

  it('says why there is none', () => {
    expect(groupRatio([], [])).toEqual({ reason: 'no_pairs' })
    expect(groupRatio([1], [0])).toEqual({ reason: 'zero_denominator' })
    expect(groupRatio([1, 1], [2, 0])).toEqual({ reason: 'zero_denominator' })
    expect(() => groupRatio([1], [])).toThrow('equal length')
  })

  it('does not depend on the order of the people', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(torque, torque), { minLength: 2, maxLength: 20 }), (people) => {
        const there = groupRatio(
          people.map(([a]) => a),
          people.map(([, b]) => b),
        )
        const back = groupRatio(
          people.toReversed().map(([a]) => a),
          people.toReversed().map(([, b]) => b),
        )
        if ('reason' in there || 'reason' in back) throw new Error('a ratio was expected')
        expect(back.meanOfRatios / there.meanOfRatios).toBeCloseTo(1, 12)
      }),
      { seed: 20261125, numRuns: 200 },
    )
  })
})
