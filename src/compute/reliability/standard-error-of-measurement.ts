import { chiSquareQuantile } from '../numeric/distributions.ts'
import { requireConfidence, requireNotNegative } from './minimal-detectable-change.ts'

/**
 * SEM from a published intraclass correlation: SD between subjects * sqrt(1 - ICC).
 *
 * What for: turning a paper's ICC into an error in the unit of the measure. Conventions: sample SD (n - 1) of the same sample; the
 * form of the ICC decides what the error holds, store it. Units: those of the SD. Errors: RangeError for an ICC above 1.
 * Source: Weir 2005, J Strength Cond Res 19:231-40, who prefers the SEM of the analysis of variance
 * (`intraclassCorrelations(...).semConsistency`) where the data are at hand. Limits: a negative ICC gives a SEM above the SD.
 * @example standardErrorOfMeasurementFromIcc(45, 0.95) // 10.0623
 */
export function standardErrorOfMeasurementFromIcc(betweenSubjectSd: number, icc: number): number {
  requireNotNegative(betweenSubjectSd, 'betweenSubjectSd')
  if (!(icc <= 1 && icc >= -1)) throw new RangeError(`an ICC lies between -1 and 1, got ${icc}`)
  return betweenSubjectSd * Math.sqrt(1 - icc)
}

/**
 * Interval of a standard error of measurement estimated with so many degrees of freedom.
 *
 * What for: a clinic's own SEM from ten pairs may be off by 30 % down or 75 % up; decisions must know. Formula in words: SEM times
 * the root of degrees of freedom over the chi-square quantiles. Units: those of the SEM. Source: chi-square interval of a variance (any
 * statistics text). Limits: normal errors. Errors: RangeError. Degrees of freedom: pairs for the within-subject SD about zero mean
 * difference, pairs - 1 for the typical error.
 * @example standardErrorOfMeasurementInterval(1, 10, 0.95) // { low: 0.6987, high: 1.7549, confidence: 0.95 }
 */
export function standardErrorOfMeasurementInterval(
  sem: number,
  degreesOfFreedom: number,
  confidence: number,
): { readonly low: number; readonly high: number; readonly confidence: number } {
  requireNotNegative(sem, 'sem')
  requireConfidence(confidence)
  const tail = (1 - confidence) / 2
  return {
    low: sem * Math.sqrt(degreesOfFreedom / chiSquareQuantile(1 - tail, degreesOfFreedom)),
    high: sem * Math.sqrt(degreesOfFreedom / chiSquareQuantile(tail, degreesOfFreedom)),
    confidence,
  }
}

export interface RepetitionMeanRule {
  readonly sem: number
  readonly applied: boolean
  readonly reason: string
}

/**
 * SEM of a mean of repetitions. Not reduced by default.
 *
 * Formula in words: SEM / sqrt(repetitions), only where repetitions are independent AND most of the error arises within a session.
 * Error between days (setup, axis, effort that day) does not shrink by repeating on the day, and it usually dominates; so the caller must say
 * that it does not. Units: those of the SEM. Source: engineering choice, no source. Errors: RangeError.
 * What for: the error of a mean of repetitions, where that is what is compared. Limits: holds where repetitions err
 * independently.
 * @example standardErrorOfMeanOfRepetitions(9.5, 3, { independentAndWithinSession: true }).sem // 5.4848
 */
export function standardErrorOfMeanOfRepetitions(
  sem: number,
  repetitions: number,
  assumption: { readonly independentAndWithinSession: boolean } = { independentAndWithinSession: false },
): RepetitionMeanRule {
  requireNotNegative(sem, 'sem')
  if (!(Number.isInteger(repetitions) && repetitions >= 1))
    throw new RangeError('repetitions is a whole number, 1 or more')
  return assumption.independentAndWithinSession
    ? { sem: sem / Math.sqrt(repetitions), applied: true, reason: 'declared_independent_within_session' }
    : { sem, applied: false, reason: 'between_session_error_does_not_shrink' }
}
