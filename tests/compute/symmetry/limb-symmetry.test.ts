import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  decideChange,
  deficitInterval,
  estimatedPreInjuryCapacity,
  limbSymmetryCoefficientOfVariationPct,
  limbSymmetryIndex,
  limbSymmetryInterval,
  limbSymmetryMinimalDetectableChange,
  otherLimbVerdict,
  pairLimbsBySession,
  type LimbSymmetryInput,
  type Measured,
  type OtherLimb,
  type PreInjuryBaseline,
} from '../../../src/compute/index.ts'
import { knownError } from '../error-models.ts'

const CLEAN: OtherLimb = { history: 'none', gaveGraft: 'no' }
const limbs = (left: number, right: number, change: Partial<LimbSymmetryInput> = {}): LimbSymmetryInput => ({
  left: { value: left },
  right: { value: right },
  involvedSide: 'right',
  betterWhen: 'higher',
  otherLimb: CLEAN,
  setupsMatch: 'comparable',
  ...change,
})
const torque = fc.double({ min: 1, max: 500, noNaN: true })

describe('limb symmetry index', () => {
  it('of 190 against 200 is 95, with a deficit of 5 and the involved side weaker', () => {
    expect(limbSymmetryIndex(limbs(200, 190))).toEqual({
      limbSymmetryIndexPct: { value: 95 },
      deficitPct: { value: 5 },
      weakerSide: 'right',
      cautions: [],
    })
  })

  it('of a cohort from its means, left over right at 60 deg/s, is 96.1864 (Fousekis 2010, J Sports Sci Med 9:364)', () => {
    const answer = limbSymmetryIndex(limbs(227, 236, { involvedSide: 'left' }))
    expect(answer.limbSymmetryIndexPct.value).toBeCloseTo(96.1864, 4)
  })

  it('of 158.9 against 171.2 is 92.82 with a deficit of 7.185', () => {
    const answer = limbSymmetryIndex(limbs(171.2, 158.9))
    expect(answer.limbSymmetryIndexPct.value).toBeCloseTo(92.82, 2)
    expect(answer.deficitPct.value).toBeCloseTo(7.185, 3)
  })

  it('names the other side as weaker above 100, and neither at exactly 100', () => {
    expect(limbSymmetryIndex(limbs(100, 104)).weakerSide).toBe('left')
    expect(limbSymmetryIndex(limbs(100, 100)).weakerSide).toBe('equal')
    expect(limbSymmetryIndex(limbs(104, 100, { involvedSide: 'left' })).weakerSide).toBe('right')
    expect(limbSymmetryIndex(limbs(96, 100, { involvedSide: 'left' })).weakerSide).toBe('left')
  })

  it('is refused where the other limb cannot be a denominator', () => {
    const reasonFor = (otherLimb: OtherLimb): Measured => {
      const { limbSymmetryIndexPct, cautions } = limbSymmetryIndex(limbs(200, 190, { otherLimb }))
      expect(cautions).toEqual([])
      return limbSymmetryIndexPct
    }
    expect(reasonFor({ history: 'surgery', gaveGraft: 'no' })).toEqual({
      value: null,
      reason: 'other_limb_had_surgery',
    })
    expect(reasonFor({ history: 'none', gaveGraft: 'yes' })).toEqual({ value: null, reason: 'other_limb_gave_graft' })
    expect(reasonFor({ history: 'both_involved', gaveGraft: 'no' })).toEqual({
      value: null,
      reason: 'both_limbs_involved',
    })
  })

  it('is flagged, not refused, where the other limb was injured or little is known of it', () => {
    expect(otherLimbVerdict({ history: 'injury', gaveGraft: 'no' }).cautions).toEqual(['other_limb_has_history'])
    const unknown = limbSymmetryIndex(limbs(200, 190, { otherLimb: { history: 'unknown', gaveGraft: 'unknown' } }))
    expect(unknown.limbSymmetryIndexPct.value).toBe(95)
    expect(unknown.cautions).toEqual(['other_limb_history_unknown', 'graft_side_unknown'])
  })

  it('needs both limbs in setups that may be compared', () => {
    expect(limbSymmetryIndex(limbs(200, 190, { setupsMatch: 'not_comparable' })).limbSymmetryIndexPct).toEqual({
      value: null,
      reason: 'setups_not_comparable',
    })
    expect(limbSymmetryIndex(limbs(200, 190, { setupsMatch: 'not_assessable' })).deficitPct).toEqual({
      value: null,
      reason: 'setups_not_assessable',
    })
    expect(limbSymmetryIndex(limbs(200, 190, { setupsMatch: 'comparable_with_caution' })).cautions).toEqual([
      'comparable_with_caution',
    ])
  })

  it('says why it is missing and never divides by nothing', () => {
    const missing: Measured = { value: null, reason: 'possible_unit_error' }
    expect(limbSymmetryIndex({ ...limbs(200, 190), left: missing })).toMatchObject({
      limbSymmetryIndexPct: missing,
      weakerSide: null,
    })
    expect(limbSymmetryIndex({ ...limbs(200, 190), right: missing }).deficitPct).toEqual(missing)
    // a limb that is missing has no setup either: the limb is the reason
    for (const setupsMatch of ['not_comparable', 'not_assessable'] as const) {
      for (const side of ['left', 'right'] as const) {
        const without = { ...limbs(200, 190, { setupsMatch }), [side]: missing }
        expect(limbSymmetryIndex(without).limbSymmetryIndexPct).toEqual(missing)
      }
    }
    expect(limbSymmetryIndex(limbs(0, 190)).limbSymmetryIndexPct).toEqual({ value: null, reason: 'zero_denominator' })
    expect(limbSymmetryIndex(limbs(0, 0)).limbSymmetryIndexPct).toEqual({ value: null, reason: 'zero_denominator' })
    expect(limbSymmetryIndex(limbs(1e-320, 190)).limbSymmetryIndexPct).toEqual({
      value: null,
      reason: 'zero_denominator',
    })
    expect(limbSymmetryIndex(limbs(200, 0)).limbSymmetryIndexPct).toEqual({ value: 0 })
    expect(limbSymmetryIndex(limbs(200, -1)).limbSymmetryIndexPct).toEqual({ value: null, reason: 'negative_value' })
    expect(limbSymmetryIndex(limbs(-200, 1)).limbSymmetryIndexPct).toEqual({ value: null, reason: 'negative_value' })
    expect(() => limbSymmetryIndex(limbs(NaN, 190))).toThrow(RangeError)
    expect(() => limbSymmetryIndex(limbs(200, Infinity))).toThrow(RangeError)
  })

  it('becomes its reciprocal when the sides change places, and ignores a common unit', () => {
    fc.assert(
      fc.property(torque, torque, fc.double({ min: 0.1, max: 10, noNaN: true }), (left, right, unit) => {
        const here = limbSymmetryIndex(limbs(left, right)).limbSymmetryIndexPct.value as number
        const swapped = limbSymmetryIndex(limbs(right, left)).limbSymmetryIndexPct.value as number
        const mirrored = limbSymmetryIndex(limbs(right, left, { involvedSide: 'left' })).limbSymmetryIndexPct.value
        const scaled = limbSymmetryIndex(limbs(unit * left, unit * right)).limbSymmetryIndexPct.value as number
        expect((here * swapped) / 10000).toBeCloseTo(1, 12)
        expect(mirrored).toBe(here)
        expect(scaled / here).toBeCloseTo(1, 12)
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })
})

describe('interval and change of a limb symmetry index', () => {
  const limb = (limbCoefficientOfVariationPct: number, confidence = 0.95) => ({
    limbCoefficientOfVariationPct,
    degreesOfFreedom: null,
    confidence,
  })

  it('of 88 with limbs at CV 4 % is 80.33 to 96.41 at 90 %', () => {
    const interval = limbSymmetryInterval(88, limb(4, 0.9))
    expect(interval.low).toBeCloseTo(80.33, 2)
    expect(interval.high).toBeCloseTo(96.41, 2)
  })

  it('of 92.82 with limbs at CV 4 % is 83.25 to 103.47 at 95 %, and its deficit runs from -3.47 to 16.75', () => {
    const interval = limbSymmetryInterval((100 * 158.9) / 171.2, limb(4))
    expect([interval.low, interval.high].map((value) => value.toFixed(2))).toEqual(['83.25', '103.47'])
    const deficit = deficitInterval(interval)
    expect([deficit.low, deficit.high].map((value) => value.toFixed(2))).toEqual(['-3.47', '16.75'])
    expect(deficit.confidence).toBe(0.95)
  })

  it('is wider for a coefficient of variation from few pairs, and mirrors with the index', () => {
    const known = limbSymmetryInterval(90, limb(4))
    const estimated = limbSymmetryInterval(90, { ...limb(4), degreesOfFreedom: 10 })
    expect(estimated.low).toBeLessThan(known.low)
    expect(estimated.high).toBeGreaterThan(known.high)
    const mirrored = limbSymmetryInterval(10000 / 90, limb(4))
    expect(mirrored.low * known.high).toBeCloseTo(10000, 8)
  })

  it('has a detectable change near 100 of 19.6 points at CV 5 % and 15.68 at 4 %', () => {
    expect(limbSymmetryMinimalDetectableChange(limb(5))).toBeCloseTo(19.6, 2)
    expect(limbSymmetryMinimalDetectableChange(limb(4))).toBeCloseTo(15.68, 2)
    expect(limbSymmetryCoefficientOfVariationPct(5)).toBeCloseTo(7.1, 1)
    expect(limbSymmetryCoefficientOfVariationPct(4)).toBeCloseTo(5.7, 1)
  })

  it.each([
    [5, 0.811],
    [3, 1.339],
  ])('from 85 to 92 with limbs at CV %d %% is %f standard errors: within measurement error', (cv, standardised) => {
    const decision = decideChange({
      earlier: { value: 85 },
      later: { value: 92 },
      errorModel: knownError(limbSymmetryCoefficientOfVariationPct(cv), 'percent'),
      confidence: 0.95,
      comparability: 'comparable',
      betterWhen: 'higher',
    })
    expect(decision.verdict).toBe('within_measurement_error')
    expect(decision.standardised).toBeCloseTo(standardised, 3)
  })

  it('refuses an index that is not positive and a negative coefficient of variation', () => {
    expect(() => limbSymmetryInterval(0, limb(4))).toThrow(RangeError)
    expect(() => limbSymmetryInterval(NaN, limb(4))).toThrow(RangeError)
    expect(() => limbSymmetryInterval(Infinity, limb(4))).toThrow(RangeError)
    expect(() => limbSymmetryInterval(90, limb(-1))).toThrow(RangeError)
    expect(() => limbSymmetryMinimalDetectableChange(limb(-1))).toThrow(RangeError)
    expect(() => limbSymmetryCoefficientOfVariationPct(NaN)).toThrow(RangeError)
  })
})

describe('estimated pre-injury capacity (Wellsandt 2017, J Orthop Sports Phys Ther 47:334-8)', () => {
  const baseline = (change: Partial<PreInjuryBaseline> = {}): PreInjuryBaseline => ({
    uninvolved: { value: 230 },
    resultId: 'r-1',
    testedWhen: 'pre_operative',
    comparability: 'comparable',
    ...change,
  })

  it('of 190 now against 230 before is 82.6087, where the index against the other limb now says 95', () => {
    const answer = estimatedPreInjuryCapacity({
      involvedNow: { value: 190 },
      baseline: baseline(),
      betterWhen: 'higher',
    })
    expect(answer.estimatedPreInjuryCapacityPct.value).toBeCloseTo(82.6087, 4)
    expect(answer).toMatchObject({ referenceResultId: 'r-1', testedWhen: 'pre_operative', cautions: [] })
  })

  it('inverts a timed test', () => {
    const answer = estimatedPreInjuryCapacity({
      involvedNow: { value: 2.2 },
      baseline: baseline({ uninvolved: { value: 2 } }),
      betterWhen: 'lower',
    })
    expect(answer.estimatedPreInjuryCapacityPct.value).toBeCloseTo(90.9091, 4)
  })

  it('is withheld where the baseline may not be compared, and flagged where it may with caution', () => {
    const withBaseline = (comparability: PreInjuryBaseline['comparability']) =>
      estimatedPreInjuryCapacity({
        involvedNow: { value: 190 },
        baseline: baseline({ comparability }),
        betterWhen: 'higher',
      })
    expect(withBaseline('not_comparable')).toEqual({
      estimatedPreInjuryCapacityPct: { value: null, reason: 'baseline_not_comparable' },
      referenceResultId: 'r-1',
      testedWhen: 'pre_operative',
      cautions: [],
    })
    expect(withBaseline('not_assessable').estimatedPreInjuryCapacityPct).toEqual({
      value: null,
      reason: 'baseline_not_assessable',
    })
    expect(withBaseline('comparable_with_caution').cautions).toEqual(['comparable_with_caution'])
  })
})

describe('pairing both limbs', () => {
  const result = (sessionId: string, side: 'left' | 'right', value: number, resultId = `${sessionId}-${side}`) => ({
    sessionId,
    side,
    resultId,
    measured: { value },
  })

  it('takes sides of the same session only', () => {
    expect(pairLimbsBySession([result('s1', 'left', 200), result('s2', 'right', 190)])).toEqual([
      {
        sessionId: 's1',
        left: { value: 200 },
        right: { value: null, reason: 'other_limb_not_tested_in_session' },
        leftResultId: 's1-left',
        rightResultId: null,
      },
      {
        sessionId: 's2',
        left: { value: null, reason: 'other_limb_not_tested_in_session' },
        right: { value: 190 },
        leftResultId: null,
        rightResultId: 's2-right',
      },
    ])
  })

  it('pairs both sides whatever their order, and does not choose between two results of a side', () => {
    const pairs = pairLimbsBySession([
      result('s1', 'right', 190),
      result('s1', 'left', 200),
      result('s2', 'left', 201, 'a'),
      result('s2', 'left', 202, 'b'),
    ])
    expect(pairs[0]).toMatchObject({ left: { value: 200 }, right: { value: 190 } })
    expect(pairs[1]).toMatchObject({
      left: { value: null, reason: 'more_than_one_result_for_side' },
      leftResultId: null,
    })
  })
})
