import { mean, sum } from '../numeric/descriptive.ts'

/**
 * Fatigue index by edges, %: 100 * (mean of the first n - mean of the last n) / mean of the first n.
 *
 * What for: loss over a long set. null where the edges would overlap, or the first mean is not positive.
 * Limits: depends on the edge; 3 or 5 repetitions at the start underestimate fatigue where the best comes later
 * (Ciccone 2017, Open Sports Sci J 10); much less reliable than peak torque (Gleeson & Mercer 1992, Eur J Appl Physiol
 * 65:221-8). Source: after Thorstensson & Karlsson 1976, Acta Physiol Scand 98:318-22.
 * Errors: RangeError for an edge that is not a positive whole number.
 *
 * @example fatigueIndexEdgesPercent(150, 148, ... 92, 5) // 34.2466
 */
export function fatigueIndexEdgesPercent(values: readonly number[], edge: number): number | null {
  if (!Number.isInteger(edge) || edge < 1) throw new RangeError('edge must be a positive whole number')
  if (values.length < 2 * edge) return null
  const first = mean(values.slice(0, edge))
  return first > 0 ? (100 * (first - mean(values.slice(-edge)))) / first : null
}

/**
 * Work fatigue by thirds, %: 100 * (sum of the first third - sum of the last third) / sum of the first third.
 *
 * A number of repetitions that does not divide by three leaves the rest in the middle. null for fewer than three, or
 * where the first third is not positive. Source: common practice (from memory).
 * What for: loss of work over a long set, less touched by a slow start than the edges. Units: any in, % out. Errors:
 * RangeError for a number that is not finite. Limits: few repetitions make thirds of one. When not to use it: across
 * sets of unequal length.
 *
 * @example workFatigueThirdsPercent(150, 148, ... 92) // 28.3688
 */
export function workFatigueThirdsPercent(values: readonly number[]): number | null {
  const third = Math.floor(values.length / 3)
  if (third < 1) return null
  const first = sum(values.slice(0, third))
  return first > 0 ? (100 * (first - sum(values.slice(-third)))) / first : null
}

/**
 * Fatigue slope: least-squares slope of the value on the repetition's number, units per repetition.
 *
 * Why the number and not the place: a repetition that does not count leaves a hole, not a shift.
 * null for fewer than three. Source: Bosquet et al. 2010, Int J Sports Med (slope among the most reliable).
 * What for: loss per repetition over a long set. Units: that of the values per repetition. Errors: RangeError for
 * lists of different length. Limits: a late first maximum flattens it.
 *
 * @example fatigueSlope([1, 2, 3], [150, 148, 146]) // -2
 */
export function fatigueSlope(repetitions: readonly number[], values: readonly number[]): number | null {
  if (repetitions.length !== values.length) throw new RangeError('as many repetitions as values are needed')
  if (values.length < 3) return null
  const x = mean(repetitions)
  const y = mean(values)
  const square = sum(repetitions.map((repetition) => (repetition - x) ** 2))
  return square > 0 ? sum(repetitions.map((repetition, i) => (repetition - x) * (values[i]! - y))) / square : null
}

/**
 * Percent decrement, %: 100 * (1 - sum / (n * best)). null where nothing is positive.
 *
 * Source: common practice (from memory).
 * What for: loss over a whole set against its best repetition. Units: any in, % out. Errors: RangeError for a number
 * that is not finite. Limits: one outstanding repetition raises it; it is never below 0.
 *
 * @example percentDecrement(150, 148, ... 92) // 19.3333
 */
export function percentDecrement(values: readonly number[]): number | null {
  const best = Math.max(0, ...values)
  return best > 0 ? 100 * (1 - sum(values) / (values.length * best)) : null
}
