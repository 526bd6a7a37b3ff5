import { mean, pearsonCorrelation, sampleStandardDeviation, sum } from '../numeric/descriptive.ts'
import { studentTTwoSidedP } from '../numeric/distributions.ts'
import type { ReasonCode } from '../types.ts'
import type { ErrorScale } from './error-model.ts'
import { requireConfidence } from './minimal-detectable-change.ts'
import { standardErrorOfMeasurementInterval } from './standard-error-of-measurement.ts'

export interface TestRetest {
  readonly pairs: number
  readonly scale: ErrorScale
  /** Second minus first; in percent (of logarithms, back-transformed) for scale percent. */
  readonly meanChange: number
  /** Two-sided p of the mean change being zero; null where the differences do not vary. */
  readonly meanChangePValue: number | null
  readonly meanShiftDetected: boolean
  /** SD of differences / sqrt 2, a shift between tests taken out; degrees of freedom pairs - 1. Percent: CV_TE. */
  readonly typicalError: number
  /** Within-subject SD, a shift left in; degrees of freedom = pairs. What decisions use: never smaller for a real shift. */
  readonly sem: number
  readonly degreesOfFreedom: number
  readonly semInterval: { readonly low: number; readonly high: number; readonly confidence: number }
  /** Pearson, or null where one test does not vary; not a measure of error. */
  readonly correlation: number | null
}

/**
 * Test-retest error of one measure from pairs of tests, one pair per subject.
 *
 * What for: a clinic's own measurement error, with how well it is known. Formulas in words: difference = second - first; typical error =
 * SD of differences (n - 1) over sqrt 2; SEM = root of half the mean squared difference, so that a shift between tests (learning)
 * makes it larger, never smaller; the shift itself is tested with t. scale percent: the same on natural logarithms, back-transformed as
 * 100 (exp(s) - 1), the CV_TE of Hopkins. Units: those of the data, or percent.
 * Bad data are a reason: `fewer_than_three_pairs`, `not_positive` (logarithms), `no_variance`. Errors: RangeError.
 * Source: Hopkins 2000, Sports Med 30:1-15 (typical error, CV; about 50 subjects for fair precision); Bland & Altman 1986, Lancet i:307-10.
 * Limits: pairs must come from people like those judged, tested as they are tested.
 * @example testRetestError([62, 78, 81, 55, 66], [67, 76, 87, 55, 63], 'absolute') // typicalError 2.8896, meanChange 1.2
 */
export function testRetestError(
  first: readonly number[],
  second: readonly number[],
  scale: ErrorScale,
  confidence = 0.95,
): TestRetest | { readonly reason: ReasonCode } {
  requireConfidence(confidence)
  if (first.length !== second.length) throw new RangeError('pairs need two lists of equal length')
  const pairs = first.length
  if (pairs < 3) return { reason: 'fewer_than_three_pairs' }
  if (scale === 'percent' && [...first, ...second].some((value) => !(value > 0))) return { reason: 'not_positive' }
  const onScale = (value: number): number => (scale === 'percent' ? Math.log(value) : value)
  const back = (value: number): number => (scale === 'percent' ? 100 * Math.expm1(value) : value)
  const differences = first.map((value, i) => onScale(second[i] as number) - onScale(value))
  const meanChange = mean(differences)
  const spread = sampleStandardDeviation(differences)
  const sem = Math.sqrt(sum(differences.map((value) => value * value)) / (2 * pairs))
  if (!(sem > 0)) return { reason: 'no_variance' }
  const pValue = spread > 0 ? studentTTwoSidedP(meanChange / (spread / Math.sqrt(pairs)), pairs - 1) : null
  const interval = standardErrorOfMeasurementInterval(sem, pairs, confidence)
  return {
    pairs,
    scale,
    meanChange: back(meanChange),
    meanChangePValue: pValue,
    meanShiftDetected: pValue === null || pValue < 1 - confidence,
    typicalError: back(spread / Math.SQRT2),
    sem: back(sem),
    degreesOfFreedom: pairs,
    semInterval: { low: back(interval.low), high: back(interval.high), confidence },
    correlation: pearsonCorrelation(first, second),
  }
}
