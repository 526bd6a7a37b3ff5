import { mean, sampleStandardDeviation } from '../numeric/descriptive.ts'
import type { ReasonCode } from '../types.ts'

/** Published tables print the mean of ratios; the ratio of printed means comes within this of it (Fousekis 2010, J Sports Sci Med 9:364). */
export const RATIO_OF_MEANS_TOLERANCE = 0.015

export interface GroupRatio {
  readonly n: number
  /** Mean of each person's ratio: the one to report. */
  readonly meanOfRatios: number
  /** Sample SD (n - 1) of the ratios; null for one person. */
  readonly standardDeviation: number | null
  /** Ratio of the two means: only for checking tables that print means. */
  readonly ratioOfMeans: number
}

/**
 * Strength ratio of a group: one ratio per person, then the mean. The ratio of the means is another number.
 *
 * Units: none. Bad data are a reason (`no_pairs`, `zero_denominator`). Errors: RangeError for unequal lengths.
 * Source: Fousekis 2010, J Sports Sci Med 9:364, table 3, where three of five printed left-limb ratios differ by 0.01 from the ratio of the printed means.
 * What for: a group's ratio as it is published, and a check of tables that print means only. Limits: a few small
 * denominators carry the mean.
 *
 * @example groupRatio([50, 90], [100, 100]) // meanOfRatios 0.7, ratioOfMeans 0.7 ; ([50, 90], [100, 150]) // 0.55 against 0.56
 */
export function groupRatio(
  numerators: readonly number[],
  denominators: readonly number[],
): GroupRatio | { readonly reason: ReasonCode } {
  if (numerators.length !== denominators.length) throw new RangeError('two lists of equal length are expected')
  if (numerators.length === 0) return { reason: 'no_pairs' }
  if (denominators.some((value) => !(value > 0))) return { reason: 'zero_denominator' }
  const ratios = numerators.map((value, i) => value / (denominators[i] as number))
  return {
    n: ratios.length,
    meanOfRatios: mean(ratios),
    standardDeviation: ratios.length > 1 ? sampleStandardDeviation(ratios) : null,
    ratioOfMeans: mean(numerators) / mean(denominators),
  }
}

/** Largest SD of a strength ratio that an imported table may state; a printed .80 beside a mean of .56 is a slipped decimal for .08. */
export const LARGEST_PLAUSIBLE_RATIO_SD = 0.5

/**
 * Whether an SD printed beside a strength ratio can be one.
 *
 * What for: a guard for imported tables. Units: none, as the ratio. Errors: none; NaN is not plausible. Source:
 * Fousekis 2010, J Sports Sci Med 9:364, table 3, prints .80 and .70 beside ratios near .56; the limit is an
 * engineering choice. Limits: never for percentages.
 *
 * @example ratioStandardDeviationIsPlausible(0.8) // false
 */
export function ratioStandardDeviationIsPlausible(standardDeviation: number): boolean {
  return standardDeviation >= 0 && standardDeviation <= LARGEST_PLAUSIBLE_RATIO_SD
}

/**
 * Signed percentage difference of one limb from a reference limb: 100 (limb - reference) / reference.
 *
 * Negative means weaker than the reference. A caption that calls it weak over strong does not change the formula. Bad data are a reason.
 * Units: percent. Source: single case, Orthop J Sports Med 2017, PMC5638169 table 1.
 * What for: signed difference of two limbs as some tables print it. Errors: RangeError for a number that is not
 * finite. Limits: the reference limb decides the size.
 * @example percentageDifference(250.7, 241.1).value // 3.98 ; (141.4, 177.6) // -20.38
 */
export function percentageDifference(
  limb: number,
  reference: number,
): { value: number } | { value: null; reason: ReasonCode } {
  if (!Number.isFinite(limb) || !Number.isFinite(reference)) throw new RangeError('values are finite numbers')
  return reference > 0 ? { value: (100 * (limb - reference)) / reference } : { value: null, reason: 'zero_denominator' }
}
