import { describe, expect, it } from 'vitest'
import {
  coefficientOfRepeatability,
  coefficientOfVariationPct,
  conventionalRatio,
  estimatedPreInjuryCapacity,
  groupRatio,
  groupRuns,
  intraclassCorrelations,
  limbSymmetryIndex,
  percentageDifference,
  PUBLISHED_ERRORS,
  sampleStandardDeviation,
  trendSlope,
  type ComparabilityVerdict,
  type LimbSymmetryInput,
} from '../../src/compute/index.ts'
import { knownError } from './error-models.ts'
import { WRIGHT_1, WRIGHT_2 } from './reliability/bland-altman-1986.ts'

/** Mistakes that strength testing software is known to make; each has one test that a wrong program fails. */
describe('traps of the trade: statistics, symmetry and trends', () => {
  const limbs: LimbSymmetryInput = {
    left: { value: 2 },
    right: { value: 2.2 },
    involvedSide: 'right',
    betterWhen: 'lower',
    otherLimb: { history: 'none', gaveGraft: 'no' },
    setupsMatch: 'comparable',
  }

  it('trap 4: the standard deviation divides by n - 1', () => {
    const torques = [180, 186, 178, 184, 182]
    const withN = Math.sqrt((4 + 16 + 16 + 4) / 5)
    expect(sampleStandardDeviation(torques)).toBeCloseTo(Math.sqrt(40 / 4), 12)
    expect(sampleStandardDeviation(torques)).not.toBeCloseTo(withN, 2)
    expect(coefficientOfVariationPct(torques)).toBeCloseTo(1.7375, 4)
  })

  it('an index of exactly 90 is exactly 90, so that > and >= can differ', () => {
    const answer = limbSymmetryIndex({ ...limbs, betterWhen: 'higher', left: { value: 200 }, right: { value: 180 } })
    expect(answer.limbSymmetryIndexPct).toEqual({ value: 90 })
  })

  it('a timed hop of 2.20 s against 2.00 s is 90.9091, not 110', () => {
    const answer = limbSymmetryIndex(limbs)
    expect(answer.limbSymmetryIndexPct.value).toBeCloseTo(90.9091, 4)
    expect(answer.weakerSide).toBe('right')
  })

  it('without a stored test from before, the estimated pre-injury capacity is a reason, not a later value', () => {
    const answer = estimatedPreInjuryCapacity({ involvedNow: { value: 190 }, baseline: null, betterWhen: 'higher' })
    expect(answer).toEqual({
      estimatedPreInjuryCapacityPct: { value: null, reason: 'no_pre_injury_test_of_other_limb' },
      referenceResultId: null,
      testedWhen: null,
      cautions: [],
    })
  })

  it('trap 8: the six forms of one table spread from .17 to .91, so the form is part of the answer', () => {
    const table = [
      [9, 2, 5, 8],
      [6, 1, 3, 2],
      [8, 4, 6, 8],
      [7, 1, 2, 6],
      [10, 5, 6, 9],
      [6, 2, 4, 7],
    ]
    const answer = intraclassCorrelations(table, 0.95)
    if ('reason' in answer) throw new Error(answer.reason)
    expect(Object.entries(answer.forms).map(([form, { value }]) => `${form} ${value.toFixed(2)}`)).toEqual([
      'ICC(1,1) 0.17',
      'ICC(2,1) 0.29',
      'ICC(3,1) 0.71',
      'ICC(1,k) 0.44',
      'ICC(2,k) 0.62',
      'ICC(3,k) 0.91',
    ])
    expect(PUBLISHED_ERRORS.find((row) => row.key === 'sole-2007-torque-work')?.iccForm).toBe('ICC(3,1)')
  })

  it('trap 9: twice the SD is not 1.96 sqrt 2 times the within-subject SD, and the answer says which it is', () => {
    expect(coefficientOfRepeatability(WRIGHT_1, WRIGHT_2)).toMatchObject({
      coefficientOfRepeatability: expect.closeTo(42.427922, 5) as number,
      convention: '1.96_sqrt2_within_subject_sd',
    })
    expect(coefficientOfRepeatability(WRIGHT_1, WRIGHT_2, '2_sd_about_zero')).toMatchObject({
      coefficientOfRepeatability: expect.closeTo(43.293798, 5) as number,
      convention: '2_sd_about_zero',
    })
  })

  it('trap 10: the mean of ratios is not the ratio of means', () => {
    expect(groupRatio([50, 90], [100, 150])).toMatchObject({
      meanOfRatios: expect.closeTo(0.55, 12) as number,
      ratioOfMeans: 0.56,
    })
  })

  it('a ratio of a corrected and an uncorrected torque is refused', () => {
    const torque = { contractionMode: 'isokinetic_concentric', velocityDegS: 60 } as const
    expect(
      conventionalRatio(
        { ...torque, torqueNm: { value: 100 }, gravityCorrected: 'no' },
        { ...torque, torqueNm: { value: 180 }, gravityCorrected: 'yes' },
      ),
    ).toEqual({ value: null, reason: 'gravity_state_differs' })
  })

  it('trap 16: a slope is drawn within a run only; the visit with other straps does not bend it', () => {
    const visits = [
      { timeDays: 0, value: 98, straps: true },
      { timeDays: 60, value: 124, straps: true },
      { timeDays: 120, value: 70, straps: false },
      { timeDays: 180, value: 159, straps: true },
    ]
    const grouped = groupRuns(visits, (a, b): { verdict: ComparabilityVerdict } => ({
      verdict: a.straps === b.straps ? 'comparable' : 'not_comparable',
    }))
    expect(grouped.runs.map((run) => run.members)).toEqual([[0, 1, 3], [2]])
    const slopeOf = (members: readonly number[], comparability: ComparabilityVerdict) =>
      trendSlope({
        points: visits.filter((_, i) => members.includes(i)),
        comparability,
        errorModel: knownError(6.8),
        confidence: 0.95,
      })
    expect(slopeOf([0, 1, 3], 'comparable').verdict).toBe('increased')
    expect(slopeOf([2], 'comparable').reason).toBe('fewer_than_three_comparable_points')
    expect(slopeOf([0, 1, 2, 3], 'not_comparable')).toMatchObject({ perMonth: null, reason: 'not_comparable' })
  })

  it('an index above 100 is kept, and its deficit is negative', () => {
    const answer = limbSymmetryIndex({ ...limbs, betterWhen: 'higher', left: { value: 200 }, right: { value: 260 } })
    expect(answer.limbSymmetryIndexPct).toEqual({ value: 130 })
    expect(answer.deficitPct).toEqual({ value: -30 })
  })

  it('trap 22: code follows the formula: 250.7 against 241.1 is +3.98 %, 141.4 against 177.6 is -20.38 % (PMC5638169)', () => {
    expect(percentageDifference(250.7, 241.1).value).toBeCloseTo(3.98, 2)
    expect(percentageDifference(141.4, 177.6).value).toBeCloseTo(-20.38, 2)
  })
})
