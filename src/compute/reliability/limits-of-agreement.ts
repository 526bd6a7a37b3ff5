import { mean, sampleStandardDeviation, sum } from '../numeric/descriptive.ts'
import type { ReasonCode } from '../types.ts'

export interface LimitsOfAgreement {
  readonly n: number
  readonly meanDifference: number
  /** Sample SD (n - 1) of the differences. */
  readonly standardDeviation: number
  readonly low: number
  readonly high: number
  readonly multiplier: number
  readonly standardErrorOfMean: number
  /** Approximate: sqrt(3) SD / sqrt n. */
  readonly standardErrorOfLimit: number
}

/**
 * Limits of agreement between two methods, or two occasions: mean difference plus or minus a multiple of the SD of differences.
 *
 * What for: how far apart two ways of measuring the same thing may lie. Conventions: differences are first - second; SD with n - 1;
 * multiplier 1.96 by default, the paper itself used 2 (pass 2 to reproduce it). Units: those of the data.
 * Bad data are a reason (`fewer_than_three_pairs`). Errors: RangeError for unequal lengths.
 * Source: Bland & Altman 1986, Lancet i:307-10. Limits: one pair per subject; spread that does not grow with the mean (else logarithms).
 * @example limitsOfAgreement(wright1, mini1) // { meanDifference: -2.1176, low: -78.0973, high: 73.8620, ... } (17 pairs of the paper)
 */
export function limitsOfAgreement(
  first: readonly number[],
  second: readonly number[],
  multiplier = 1.96,
): LimitsOfAgreement | { readonly reason: ReasonCode } {
  if (first.length !== second.length) throw new RangeError('pairs need two lists of equal length')
  if (!(multiplier > 0 && multiplier < Infinity)) throw new RangeError('multiplier is positive')
  if (first.length < 3) return { reason: 'fewer_than_three_pairs' }
  const differences = first.map((value, i) => value - (second[i] as number))
  const n = differences.length
  const meanDifference = mean(differences)
  const standardDeviation = sampleStandardDeviation(differences)
  return {
    n,
    meanDifference,
    standardDeviation,
    low: meanDifference - multiplier * standardDeviation,
    high: meanDifference + multiplier * standardDeviation,
    multiplier,
    standardErrorOfMean: standardDeviation / Math.sqrt(n),
    standardErrorOfLimit: (Math.sqrt(3) * standardDeviation) / Math.sqrt(n),
  }
}

export interface Repeatability {
  readonly n: number
  /** Within-subject SD: root of half the mean squared difference. */
  readonly withinSubjectSd: number
  /** SD of the differences about zero (the same method twice has no bias to subtract). */
  readonly standardDeviationAboutZero: number
  readonly coefficientOfRepeatability: number
  readonly convention: '1.96_sqrt2_within_subject_sd' | '2_sd_about_zero'
}

/**
 * Coefficient of repeatability of one method used twice: the difference that 95 % of pairs of repeats stay below.
 *
 * Two conventions, never mixed: 1.96 * sqrt 2 * within-subject SD (default), and 2 * SD of differences about zero, which
 * Bland & Altman 1986 (Lancet i:307-10) printed. They differ by 2 %. Units: those of the data.
 * Bad data are a reason (`no_pairs`). Errors: RangeError for unequal lengths.
 * What for: repeating one method on one person. Source: Bland & Altman 1986, Lancet i:307-10. Limits: a shift between
 * repeats is left in. When not to use it: between two methods.
 *
 * @example coefficientOfRepeatability(wright1, wright2) // { withinSubjectSd: 15.3067, coefficientOfRepeatability: 42.4279, ... }
 */
export function coefficientOfRepeatability(
  first: readonly number[],
  second: readonly number[],
  convention: Repeatability['convention'] = '1.96_sqrt2_within_subject_sd',
): Repeatability | { readonly reason: ReasonCode } {
  if (first.length !== second.length) throw new RangeError('pairs need two lists of equal length')
  const n = first.length
  if (n === 0) return { reason: 'no_pairs' }
  const squared = sum(first.map((value, i) => (value - (second[i] as number)) ** 2))
  const standardDeviationAboutZero = Math.sqrt(squared / n)
  const withinSubjectSd = Math.sqrt(squared / (2 * n))
  return {
    n,
    withinSubjectSd,
    standardDeviationAboutZero,
    coefficientOfRepeatability:
      convention === '2_sd_about_zero' ? 2 * standardDeviationAboutZero : 1.96 * Math.SQRT2 * withinSubjectSd,
    convention,
  }
}
