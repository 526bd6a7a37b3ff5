import { normalTwoSidedP, studentTTwoSidedP } from '../numeric/distributions.ts'
import { requireConfidence, twoSidedCriticalValue } from '../reliability/minimal-detectable-change.ts'
import type { ErrorModel, KnownErrorModel } from '../reliability/error-model.ts'
import type { Measured, ReasonCode } from '../types.ts'
import type { BetterWhen, ChangeDecision, ChangeVerdict } from './types.ts'
import type { ComparabilityVerdict } from '../comparability/compare-facts.ts'

export interface ChangeInput {
  readonly earlier: Measured
  readonly later: Measured
  readonly errorModel: ErrorModel
  /** 0.95 for 95 %. */
  readonly confidence: number
  /** Whether the two tests may be compared at all: no change is drawn across those that may not. */
  readonly comparability: ComparabilityVerdict
  readonly betterWhen: BetterWhen | null
}

/** SD of one test on the scale decisions are taken on: the unit of the measure, or natural logarithms. */
export function decisionScaleSem(model: KnownErrorModel): number {
  if (!(model.sem > 0 && model.sem < Infinity)) throw new RangeError(`a SEM is positive and finite, got ${model.sem}`)
  return model.scale === 'percent' ? Math.log1p(model.sem / 100) : model.sem
}

/**
 * Change decision: is the difference between two tests more than measurement error, at a stated confidence?
 *
 * Formula in words: the difference (of natural logarithms for a percentage error) over sqrt 2 times the SEM, against the two-sided critical
 * value: normal for a published SEM, t with its degrees of freedom for a clinic's own, so that a SEM from few pairs must be exceeded by more.
 * Strictly more than the limit is a change; exactly the limit is within error. Percentage limits are asymmetric: with CV 5 % at 95 %, +14.48 % and -12.65 %.
 * Verdicts: increased, decreased, within_measurement_error, undetermined (with a reason). better or worse only where the measure declares a direction.
 * Units: limits and difference in the unit of the measure. Bad data are undetermined: a missing value (its reason), a pair that may not be
 * compared, no error model, a value that is not positive under a percentage error. Errors: RangeError for a caller's mistake.
 * Source: Weir 2005, J Strength Cond Res 19:231-40; Hopkins 2000, Sports Med 30:1-15 (log model).
 * Limits: one pair, one look. Many verdicts at once mislead (`multiplicityStatement`).
 * When not to use it: to say that nothing changed; within error is not proof of no change.
 * What for: whether a difference of two tests is more than error.
 * @example SEM 9.5 N.m, 95 %: 195 -> 220 is within_measurement_error (z 1.8608, p .0628), 195 -> 223 is increased (z 2.0841)
 */
export function decideChange(input: ChangeInput): ChangeDecision {
  const { earlier, later, errorModel, confidence, comparability, betterWhen } = input
  requireConfidence(confidence)
  const known = earlier.value !== null && later.value !== null
  const difference = known ? later.value - earlier.value : null
  const ratio = known && earlier.value > 0 && later.value > 0 ? later.value / earlier.value : null
  const undetermined = (reason: ReasonCode): ChangeDecision => ({
    verdict: 'undetermined',
    difference,
    differencePct: ratio === null ? null : 100 * (ratio - 1),
    limits: null,
    standardised: null,
    pValue: null,
    critical: null,
    confidence,
    meaning: null,
    reason,
    cautions: [],
  })
  if (earlier.value === null) return undetermined(earlier.reason)
  if (later.value === null) return undetermined(later.reason)
  if (!Number.isFinite(earlier.value) || !Number.isFinite(later.value))
    throw new RangeError('values are finite numbers')
  if (comparability === 'not_comparable' || comparability === 'not_assessable') {
    return { ...undetermined(comparability), difference: null, differencePct: null }
  }
  if (errorModel.kind === 'none') return undetermined(errorModel.reason)

  const standardError = Math.SQRT2 * decisionScaleSem(errorModel)
  const percent = errorModel.scale === 'percent'
  if (percent && ratio === null) return undetermined('not_positive')
  const distance = percent ? Math.log(ratio as number) : (difference as number)
  const degreesOfFreedom = errorModel.degreesOfFreedom
  const criticalValue = twoSidedCriticalValue(confidence, degreesOfFreedom)
  const half = criticalValue * standardError
  const verdict: ChangeVerdict =
    distance > half ? 'increased' : distance < -half ? 'decreased' : 'within_measurement_error'
  const standardised = distance / standardError
  const improved = verdict === (betterWhen === 'higher' ? 'increased' : 'decreased')
  return {
    verdict,
    difference,
    differencePct: ratio === null ? null : 100 * (ratio - 1),
    limits: percent
      ? { low: earlier.value * Math.expm1(-half), high: earlier.value * Math.expm1(half) }
      : { low: -half, high: half },
    standardised,
    pValue:
      degreesOfFreedom === null ? normalTwoSidedP(standardised) : studentTTwoSidedP(standardised, degreesOfFreedom),
    critical: { distribution: degreesOfFreedom === null ? 'normal' : 't', degreesOfFreedom, value: criticalValue },
    confidence,
    meaning: betterWhen === null || verdict === 'within_measurement_error' ? null : improved ? 'better' : 'worse',
    reason: null,
    cautions: [
      ...errorModel.cautions,
      ...(comparability === 'comparable_with_caution' ? (['comparable_with_caution'] as const) : []),
    ],
  }
}
