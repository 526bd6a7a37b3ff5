import { normalQuantile, studentTQuantile } from '../numeric/distributions.ts'

export function requireConfidence(confidence: number): void {
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`confidence lies between 0 and 1, got ${confidence}`)
}

/** RangeError unless the number is finite and not negative; with `what` in the message. */
export function requireNotNegative(value: number, what: string): void {
  if (!(value >= 0 && value < Infinity)) throw new RangeError(`${what} is finite and not negative, got ${value}`)
}

/** A series asks for the same few critical values again and again, and each is an iteration. Forgotten when it grows. */
const criticalValues = new Map<string, number>()
const CRITICAL_VALUES_KEPT = 256

/**
 * Two-sided critical value: normal for a SEM taken as known (null), t for one estimated with so many degrees of freedom.
 *
 * Units: none. Errors: RangeError for a confidence outside (0, 1) or degrees of freedom that are not positive.
 * What for: every interval and verdict of this core. Source: definition. Limits: remembers the last few hundred
 * answers, which no caller can see.
 *
 * @example twoSidedCriticalValue(0.95, null) // 1.959964 ; (0.95, 10) // 2.228139
 */
export function twoSidedCriticalValue(confidence: number, degreesOfFreedom: number | null): number {
  requireConfidence(confidence)
  const key = `${confidence} ${degreesOfFreedom ?? 'known'}`
  const kept = criticalValues.get(key)
  if (kept !== undefined) return kept
  const probability = 1 - (1 - confidence) / 2
  const value =
    degreesOfFreedom === null ? normalQuantile(probability) : studentTQuantile(probability, degreesOfFreedom)
  if (criticalValues.size >= CRITICAL_VALUES_KEPT) criticalValues.clear()
  criticalValues.set(key, value)
  return value
}

/**
 * Minimal detectable change (smallest real difference): the difference between two tests that random error alone exceeds in
 * 1 - confidence of cases.
 *
 * Formula in words: two-sided normal quantile times square root of two times SEM. At 95 % this is the published
 * 1.96 * sqrt 2 * SEM = 2.77 SEM, with the quantile not rounded. Units: those of the SEM (percent in, percent out).
 * Conventions: absolute errors. For percentage errors see `percentChangeLimits`: the limits are not symmetric.
 * Limits: takes the SEM as known; an estimated one decides with t (`decideChange`). Errors: RangeError.
 * Source: Weir 2005, J Strength Cond Res 19:231-40. When not to use it: as the smallest change that matters.
 * What for: the smallest difference of two tests that error alone rarely makes.
 * @example minimalDetectableChange(9.5, 0.95) // 26.3322 ; (9.5, 0.9) // 22.0986
 */
export function minimalDetectableChange(sem: number, confidence: number): number {
  requireNotNegative(sem, 'sem')
  return twoSidedCriticalValue(confidence, null) * Math.SQRT2 * sem
}

/**
 * Limits of change for a percentage error: a rise beyond `highPct` or a fall beyond `lowPct` exceeds measurement error.
 *
 * Formula in words: exp(plus or minus quantile * sqrt 2 * ln(1 + CV / 100)) - 1, in percent. Convention: the percentage SEM is read
 * as a coefficient of variation of single tests on the log scale (CV_TE of Hopkins 2000, Sports Med 30:1-15), so the fall is smaller
 * in percent than the rise. Errors: RangeError.
 * What for: limits of a change for errors that grow with the value. Source: Hopkins 2000, Sports Med 30:1-15. Limits:
 * positive values only.
 * @example percentChangeLimits(5, 0.95) // { lowPct: -12.65, highPct: 14.48 }
 */
export function percentChangeLimits(
  coefficientOfVariationPct: number,
  confidence: number,
  degreesOfFreedom: number | null = null,
): { readonly lowPct: number; readonly highPct: number } {
  requireNotNegative(coefficientOfVariationPct, 'coefficientOfVariationPct')
  const half =
    twoSidedCriticalValue(confidence, degreesOfFreedom) * Math.SQRT2 * Math.log1p(coefficientOfVariationPct / 100)
  return { lowPct: 100 * Math.expm1(-half), highPct: 100 * Math.expm1(half) }
}
