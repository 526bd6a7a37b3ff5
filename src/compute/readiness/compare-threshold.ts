import type { Comparator } from './criteria-set.ts'

/** Relative size below which two numbers differ by binary arithmetic alone (100 x 0.9 x 171.2 / 171.2 is not 90 to the last bit). */
const NUMBER_NOISE = 1e-12

/**
 * Threshold comparison: whether a value meets a comparator, without rounding.
 *
 * Exactly 90 meets `>= 90` and does not meet `> 90`; 89.999 meets neither. Values within 1e-12 of the threshold, relative, count as
 * equal to it: that is arithmetic noise, nine orders of magnitude below anything measured.
 *
 * Errors: RangeError for a number that is not finite, because NaN < 90 is false and would look like an answer.
 * What for: the one place where a criterion is compared. Units: both the same. Source: comparators as published
 * (Grindem and Toole at or above, Kyritsis and Gokeler above).
 * Limits: compares numbers; says nothing of their error.
 *
 * @example meetsThreshold(90, '>=', 90) // true
 * @example meetsThreshold(90, '>', 90)  // false
 */
export function meetsThreshold(value: number, comparator: Comparator, threshold: number): boolean {
  if (!Number.isFinite(value) || !Number.isFinite(threshold)) throw new RangeError('only finite numbers are compared')
  const equal = isAtThreshold(value, threshold)
  switch (comparator) {
    case '<':
      return !equal && value < threshold
    case '<=':
      return equal || value < threshold
    case '>':
      return !equal && value > threshold
    case '>=':
      return equal || value > threshold
  }
}

/** Whether a value equals a threshold up to arithmetic noise. */
export function isAtThreshold(value: number, threshold: number): boolean {
  return Math.abs(value - threshold) <= NUMBER_NOISE * Math.abs(threshold)
}
