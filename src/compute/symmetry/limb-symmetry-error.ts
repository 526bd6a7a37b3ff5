import { requireNotNegative, twoSidedCriticalValue } from '../reliability/minimal-detectable-change.ts'
import type { ConfidenceInterval } from '../trends/types.ts'

export interface LimbError {
  /** Coefficient of variation of one test of one limb, percent (a percentage SEM). */
  readonly limbCoefficientOfVariationPct: number
  /** null: taken as known (published); else those the coefficient was estimated with. */
  readonly degreesOfFreedom: number | null
  readonly confidence: number
}

/** SD of ln(LSI): two independent limbs with the same coefficient of variation. */
function logSpread(limbCoefficientOfVariationPct: number): number {
  requireNotNegative(limbCoefficientOfVariationPct, 'limbCoefficientOfVariationPct')
  return Math.SQRT2 * Math.log1p(limbCoefficientOfVariationPct / 100)
}

/**
 * Interval of a limb symmetry index, or any ratio of two independent results in percent.
 *
 * What for: an index of 92 with limbs measured to 4 % may be 83 or 103; show it beside a cut-off. Formula in words: index * exp(plus or minus critical
 * value * sqrt 2 * ln(1 + CV / 100)); asymmetric, never below 0. Units: percent. Source: derived (error of a log ratio of two independent measurements
 * with equal coefficients of variation); Hopkins 2000, Sports Med 30:1-15 for the log model. Errors: RangeError unless the index is positive.
 * Limits: independence; a common cause on the day (effort, warm-up) makes the true interval narrower. Not for an index of exactly 0.
 * @example limbSymmetryInterval(88, { limbCoefficientOfVariationPct: 4, degreesOfFreedom: null, confidence: 0.9 }) // 80.33 to 96.41
 */
export function limbSymmetryInterval(limbSymmetryIndexPct: number, error: LimbError): ConfidenceInterval {
  if (!(limbSymmetryIndexPct > 0 && limbSymmetryIndexPct < Infinity))
    throw new RangeError('an index is positive and finite')
  const half =
    twoSidedCriticalValue(error.confidence, error.degreesOfFreedom) * logSpread(error.limbCoefficientOfVariationPct)
  return {
    low: limbSymmetryIndexPct * Math.exp(-half),
    high: limbSymmetryIndexPct * Math.exp(half),
    confidence: error.confidence,
  }
}

/**
 * Interval of the deficit (100 - index) that belongs to an index's interval.
 *
 * What for: an index and its deficit are one statement. Units: percent. Errors: none. Source: arithmetic. Limits:
 * none beyond those of the index's interval.
 *
 * @example of 92.82 with 83.25 to 103.47: -3.47 to 16.75
 */
export function deficitInterval(index: ConfidenceInterval): ConfidenceInterval {
  return { low: 100 - index.high, high: 100 - index.low, confidence: index.confidence }
}

/**
 * Coefficient of variation of a limb symmetry index, percent: the percentage error to judge a change of the index with.
 *
 * Formula in words: exp(sqrt 2 * ln(1 + CV / 100)) - 1, close to sqrt 2 * CV. Give it to `decideChange` as a percentage SEM.
 * Source: derived. Errors: RangeError.
 * Limits: independent limbs with equal coefficients.
 * What for: the error of an index made of two values with errors.
 *
 * @example limbSymmetryCoefficientOfVariationPct(5) // 7.1436 (sqrt 2 * 5 = 7.0711)
 */
export function limbSymmetryCoefficientOfVariationPct(limbCoefficientOfVariationPct: number): number {
  return 100 * Math.expm1(logSpread(limbCoefficientOfVariationPct))
}

/**
 * Minimal detectable change of a limb symmetry index, in points, near an index of 100.
 *
 * Formula in words: critical value * sqrt 2 * (sqrt 2 * CV), the linear form that is easy to state. Decisions use logarithms (`decideChange`), which
 * are exact for the model away from 100. Units: points of percent. Source: derived. Errors: RangeError.
 * Limits: near 100 only; away from it decide on logarithms.
 * What for: the smallest move of an index that error alone rarely makes.
 *
 * @example limbSymmetryMinimalDetectableChange({ limbCoefficientOfVariationPct: 5, degreesOfFreedom: null, confidence: 0.95 }) // 19.6
 */
export function limbSymmetryMinimalDetectableChange(error: LimbError): number {
  requireNotNegative(error.limbCoefficientOfVariationPct, 'limbCoefficientOfVariationPct')
  return 2 * twoSidedCriticalValue(error.confidence, error.degreesOfFreedom) * error.limbCoefficientOfVariationPct
}
