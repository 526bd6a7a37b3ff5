/**
 * Plain descriptive statistics. Conventions: sample SD and variance divide by n - 1; sums are compensated.
 * These are building blocks, so a non-finite or missing number is the caller's mistake (RangeError): data are screened
 * before they come here. Second route in the tests: simple-statistics.
 */

function requireFinite(values: ArrayLike<number>, minimum: number, what: string): void {
  if (values.length < minimum) throw new RangeError(`${what} needs at least ${minimum} value(s), got ${values.length}`)
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i])) throw new RangeError(`${what}: value ${i} is not a finite number`)
  }
}

/**
 * Sum with Neumaier's compensation, so that the order of the values hardly matters.
 *
 * Units: those of the values. Errors: RangeError for a non-finite value. Source: Neumaier 1974, Z Angew Math Mech 54:39-51.
 * What for: sums that do not depend on order. Limits: compensated, not exact; an overflow stays one.
 *
 * @example sum([1, 1e100, 1, -1e100]) // 2
 */
export function sum(values: ArrayLike<number>): number {
  requireFinite(values, 0, 'sum')
  let total = 0
  let compensation = 0
  for (let i = 0; i < values.length; i++) {
    const value = values[i] as number
    const next = total + value
    compensation += Math.abs(total) >= Math.abs(value) ? total - next + value : value - next + total
    total = next
  }
  return total + compensation
}

/**
 * Arithmetic mean: sum over count.
 *
 * Units: those of the values. Errors: RangeError when empty or non-finite.
 * What for: the centre of a few repetitions or subjects. Source: definition. Limits: one outlier moves it; never over
 * values with another number of repetitions behind them.
 *
 * @example mean([72, 76, 74, 79, 79, 77]) // 76.16666666666667
 */
export function mean(values: ArrayLike<number>): number {
  requireFinite(values, 1, 'mean')
  return sum(values) / values.length
}

/**
 * Sum of squared distances from the mean, two passes, so that 1e9 + x loses nothing.
 *
 * What for: variance, slope and correlation. Units: those of the values, squared. Errors: RangeError when empty or
 * non-finite. Source: definition; two passes after Chan, Golub & LeVeque 1983, Am Stat 37:242-7 (from memory).
 * Limits: not for streams.
 *
 * @example sumOfSquaredDeviations([1, 2, 3, 4]) // 5
 */
export function sumOfSquaredDeviations(values: ArrayLike<number>): number {
  const centre = mean(values)
  const squares = new Float64Array(values.length)
  for (let i = 0; i < values.length; i++) squares[i] = ((values[i] as number) - centre) ** 2
  return sum(squares)
}

/**
 * Sample variance: squared distances from the mean over n - 1.
 *
 * Errors: RangeError for fewer than two values.
 * What for: spread of a sample, to be added up. Units: those of the values, squared. Source: definition. When not to
 * use it: as the spread of a complete population.
 * Limits: one outlier moves it far; n of 2 or 3 says little.
 *
 * @example sampleVariance([1, 2, 3, 4]) // 1.6666666666666667
 */
export function sampleVariance(values: ArrayLike<number>): number {
  requireFinite(values, 2, 'sampleVariance')
  return sumOfSquaredDeviations(values) / (values.length - 1)
}

/**
 * Sample standard deviation (n - 1, not n).
 *
 * When not to use it: as the spread of a complete population.
 * Errors: RangeError for fewer than two values.
 * What for: spread in the unit of the values. Units: those of the values. Source: definition.
 *
 * @example sampleStandardDeviation([72, 76, 74, 79, 79, 77]) // 2.7869
 */
export function sampleStandardDeviation(values: ArrayLike<number>): number {
  return Math.sqrt(sampleVariance(values))
}

/**
 * Coefficient of variation in percent: 100 * sample SD (n - 1) / mean.
 *
 * null where the mean is not positive: a percentage of nothing, or of a signed measure, means nothing.
 * What for: spread of repetitions against their size. Units: any in, % out. Errors: RangeError for fewer than two
 * values. Source: definition. Limits: says nothing about effort; when not to use it: angles, whose zero is arbitrary.
 *
 * @example coefficientOfVariationPct([180, 186, 178, 184, 182]) // 1.7375
 */
export function coefficientOfVariationPct(values: ArrayLike<number>): number | null {
  const centre = mean(values)
  return centre > 0 ? (100 * sampleStandardDeviation(values)) / centre : null
}

/**
 * Pearson's product-moment correlation.
 *
 * null where either list does not vary. When not to use it: as agreement (two methods can correlate and disagree;
 * Bland & Altman 1986, Lancet i:307-10). Errors: RangeError for unequal lengths or fewer than two pairs.
 * What for: how well ranks and distances are kept from test to retest. Units: none. Source: definition.
 *
 * @example pearsonCorrelation([62, 78, 81, 55, 66], [67, 76, 87, 55, 63]) // 0.945216...
 */
export function pearsonCorrelation(x: ArrayLike<number>, y: ArrayLike<number>): number | null {
  if (x.length !== y.length) throw new RangeError('pearsonCorrelation needs lists of equal length')
  requireFinite(x, 2, 'pearsonCorrelation')
  requireFinite(y, 2, 'pearsonCorrelation')
  const meanX = mean(x)
  const meanY = mean(y)
  const products = new Float64Array(x.length)
  for (let i = 0; i < x.length; i++) products[i] = ((x[i] as number) - meanX) * ((y[i] as number) - meanY)
  const scale = Math.sqrt(sumOfSquaredDeviations(x)) * Math.sqrt(sumOfSquaredDeviations(y))
  return scale > 0 ? Math.max(-1, Math.min(1, sum(products) / scale)) : null
}
