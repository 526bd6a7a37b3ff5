/**
 * Normal, Student t, F and chi-square: distribution functions and quantiles to about 1e-12 relative.
 *
 * How: both incomplete integrals come from one continued fraction or series each, and their leading factor from Loader's
 * saddle-point form, which does not subtract large logarithms (Loader 2000, Fast and Accurate Computation of Binomial
 * Probabilities). Both tails are carried side by side, so that a small one is never 1 minus a large one. Quantiles invert
 * the nearer tail by guarded Newton steps on a logarithmic scale.
 *
 * Compute imports nothing, hence own code; scipy golden values and a registry library are the second and third route.
 * Errors: RangeError for NaN, for a probability outside (0, 1), for degrees of freedom that are not positive and finite.
 */

interface Tails {
  readonly lower: number
  readonly upper: number
  /** Density times the variable: the derivative with respect to its logarithm. */
  readonly kernel: number
}

const TWO_PI = 2 * Math.PI
const EPSILON = 2 ** -52
const TINY = 1e-300
const ITERATION_LIMIT = 1_000_000

/** ln Gamma(x + 1) minus Stirling's approximation of it. */
function stirlingError(x: number): number {
  let shifted = x
  let correction = 0
  while (shifted < 16) {
    correction += (shifted + 0.5) * Math.log1p(1 / shifted) - 1
    shifted += 1
  }
  const r = 1 / (shifted * shifted)
  const series =
    (1 / 12 - r * (1 / 360 - r * (1 / 1260 - r * (1 / 1680 - r * (1 / 1188 - (r * 691) / 360360))))) / shifted
  return correction + series
}

/** x ln(x / m) + m - x without cancellation near x = m (Loader's deviance part). */
function deviance(x: number, m: number): number {
  if (Math.abs(x - m) >= 0.1 * (x + m)) return x * Math.log(x / m) + m - x
  const ratio = (x - m) / (x + m)
  let total = (x - m) * ratio
  let term = 2 * x * ratio
  for (let j = 1; j < 1000; j++) {
    term *= ratio * ratio
    const next = total + term / (2 * j + 1)
    if (next === total) break
    total = next
  }
  return total
}

/** Regularised incomplete beta, both tails; y is 1 - x, given apart so that neither is rounded away. */
function incompleteBeta(a: number, b: number, x: number, y: number): Tails {
  if (x <= 0) return { lower: 0, upper: 1, kernel: 0 }
  if (y <= 0) return { lower: 1, upper: 0, kernel: 0 }
  const n = a + b
  const binomial =
    Math.exp(stirlingError(n) - stirlingError(a) - stirlingError(b) - deviance(a, n * x) - deviance(b, n * y)) *
    Math.sqrt(n / (TWO_PI * a * b))
  const kernel = ((a * b) / n) * binomial
  if (x < (a + 1) / (n + 2)) {
    const lower = Math.min(1, (kernel / a) * betaFraction(a, b, x))
    return { lower, upper: 1 - lower, kernel }
  }
  const upper = Math.min(1, (kernel / b) * betaFraction(b, a, y))
  return { lower: 1 - upper, upper, kernel }
}

/** Continued fraction of the incomplete beta (modified Lentz). */
function betaFraction(a: number, b: number, x: number): number {
  let c = 1
  let d = 1 - ((a + b) * x) / (a + 1)
  d = 1 / (Math.abs(d) < TINY ? TINY : d)
  let fraction = d
  for (let m = 1; m < ITERATION_LIMIT; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m))
    d = 1 + even * d
    c = 1 + even / c
    d = 1 / (Math.abs(d) < TINY ? TINY : d)
    if (Math.abs(c) < TINY) c = TINY
    fraction *= d * c
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1))
    d = 1 + odd * d
    c = 1 + odd / c
    d = 1 / (Math.abs(d) < TINY ? TINY : d)
    if (Math.abs(c) < TINY) c = TINY
    const change = d * c
    fraction *= change
    if (Math.abs(change - 1) <= EPSILON) break
  }
  return fraction
}

/** Regularised incomplete gamma, both tails. */
function incompleteGamma(a: number, s: number): Tails {
  if (s <= 0) return { lower: 0, upper: 1, kernel: 0 }
  if (s === Infinity) return { lower: 1, upper: 0, kernel: 0 }
  const poisson = Math.exp(-stirlingError(a) - deviance(a, s)) / Math.sqrt(TWO_PI * a)
  const kernel = a * poisson
  if (s < a + 1) {
    let term = 1
    let series = 1
    for (let k = 1; k < ITERATION_LIMIT; k++) {
      term *= s / (a + k)
      series += term
      if (term <= series * EPSILON) break
    }
    const lower = Math.min(1, poisson * series)
    return { lower, upper: 1 - lower, kernel }
  }
  let b = s + 1 - a
  let c = 1 / TINY
  let d = 1 / b
  let fraction = d
  for (let k = 1; k < ITERATION_LIMIT; k++) {
    const step = -k * (k - a)
    b += 2
    d = step * d + b
    c = b + step / c
    d = 1 / (Math.abs(d) < TINY ? TINY : d)
    if (Math.abs(c) < TINY) c = TINY
    const change = d * c
    fraction *= change
    if (Math.abs(change - 1) <= EPSILON) break
  }
  const upper = Math.min(1, kernel * fraction)
  return { lower: 1 - upper, upper, kernel }
}

/** Root of an increasing function by Newton steps kept inside a bracket; `slope` is its derivative. */
function solveIncreasing(f: (u: number) => { value: number; slope: number }, start: number): number {
  let low = -Infinity
  let high = Infinity
  let u = start
  for (let i = 0; i < 400; i++) {
    const { value, slope } = f(u)
    if (value === 0) return u
    if (value > 0) high = u
    else low = u
    const newton = slope > 0 && Number.isFinite(value) ? -value / slope : NaN
    let next = u + Math.max(-8, Math.min(8, newton))
    if (!(next > low && next < high)) {
      next = low === -Infinity || high === Infinity ? u + (value > 0 ? -4 : 4) : low + (high - low) / 2
    }
    if (Math.abs(next - u) <= EPSILON * Math.max(1, Math.abs(u))) return next
    u = next
  }
  return u
}

/** Quantile of a distribution on (0, infinity). */
function positiveQuantile(probability: number, tails: (x: number) => Tails, start: number): number {
  const useLower = probability <= 0.5
  const target = Math.log(useLower ? probability : 1 - probability)
  const root = solveIncreasing((u) => {
    const { lower, upper, kernel } = tails(Math.exp(u))
    return useLower
      ? { value: Math.log(lower) - target, slope: kernel / lower }
      : { value: target - Math.log(upper), slope: kernel / upper }
  }, Math.log(start))
  return Math.exp(root)
}

/** Quantile of a distribution symmetric about 0; `tails` gives lower = P(|X| <= x), upper = P(|X| > x), kernel = 2 x density. */
function symmetricQuantile(probability: number, tails: (x: number) => Tails): number {
  if (probability === 0.5) return 0
  const central = 2 * Math.abs(probability - 0.5)
  const outside = 2 * Math.min(probability, 1 - probability)
  const useCentral = central < 0.5
  const root = solveIncreasing((u) => {
    const { lower, upper, kernel } = tails(Math.exp(u))
    return useCentral
      ? { value: Math.log(lower) - Math.log(central), slope: kernel / lower }
      : { value: Math.log(outside) - Math.log(upper), slope: kernel / upper }
  }, 0)
  return Math.sign(probability - 0.5) * Math.exp(root)
}

function normalTails(x: number): Tails {
  const { lower, upper, kernel } = incompleteGamma(0.5, (x * x) / 2)
  return { lower, upper, kernel: 2 * kernel }
}

function studentTTails(x: number, degreesOfFreedom: number): Tails {
  const square = x * x
  const inside = square === Infinity ? 0 : degreesOfFreedom / (degreesOfFreedom + square)
  const outside = square === Infinity ? 1 : square / (degreesOfFreedom + square)
  const { lower, upper, kernel } = incompleteBeta(degreesOfFreedom / 2, 0.5, inside, outside)
  return { lower: upper, upper: lower, kernel: 2 * kernel }
}

function fTails(x: number, numerator: number, denominator: number): Tails {
  const scaled = numerator * x
  if (scaled === Infinity) return { lower: 1, upper: 0, kernel: 0 }
  return incompleteBeta(
    numerator / 2,
    denominator / 2,
    scaled / (scaled + denominator),
    denominator / (scaled + denominator),
  )
}

function requireProbability(probability: number): void {
  if (!(probability > 0 && probability < 1))
    throw new RangeError(`a probability lies between 0 and 1, got ${probability}`)
}

function requireDegrees(...degrees: number[]): void {
  for (const value of degrees) {
    if (!(value > 0 && value < Infinity))
      throw new RangeError(`degrees of freedom are positive and finite, got ${value}`)
  }
}

function requireNumber(x: number): void {
  if (Number.isNaN(x)) throw new RangeError('a distribution cannot be asked about NaN')
}

function symmetricCdf(x: number, tails: (x: number) => Tails): number {
  const { upper, lower } = tails(Math.abs(x))
  if (x < 0) return upper / 2
  return lower < 0.5 ? 0.5 + lower / 2 : 1 - upper / 2
}

/**
 * Standard normal distribution function: the chance of a value at or below x.
 *
 * Units: none. Errors: RangeError for NaN. Source: any statistics text; checked against scipy.stats.norm.cdf.
 * What for: chances from a known error. Limits: relative accuracy about 1e-12, in the tails too.
 *
 * @example normalCdf(1.8608) // 0.968614
 */
export function normalCdf(x: number): number {
  requireNumber(x)
  return symmetricCdf(x, normalTails)
}

/**
 * Two-sided p value of a standard normal deviate: the chance of being at least as far from 0.
 *
 * Computed from the tail itself, so it stays accurate far out.
 * What for: the p of a change judged by a known error. Units: none. Errors: RangeError for NaN. Source: checked
 * against scipy.stats.norm.sf.
 * Limits: for a known error; an estimated one wants `studentTTwoSidedP`.
 *
 * @example normalTwoSidedP(1.8608) // 0.062772
 */
export function normalTwoSidedP(x: number): number {
  requireNumber(x)
  return normalTails(Math.abs(x)).upper
}

/**
 * Standard normal quantile: the x below which a given share lies.
 *
 * Errors: RangeError unless 0 < probability < 1.
 * What for: critical values of a known error. Units: none. Source: inverts the nearer tail; checked against
 * scipy.stats.norm.ppf. Limits: 1e-12 relative; never rounded to 1.96.
 *
 * @example normalQuantile(0.975) // 1.95996398454005
 */
export function normalQuantile(probability: number): number {
  requireProbability(probability)
  return symmetricQuantile(probability, normalTails)
}

/**
 * Student's t distribution function. Degrees of freedom may be any positive number (Satterthwaite gives fractions).
 *
 * What for: chances from an error estimated with few pairs. Units: none. Errors: RangeError for NaN or degrees of
 * freedom that are not positive and finite. Source: incomplete beta; checked against scipy.stats.t.cdf. Limits: 1e-12
 * relative.
 *
 * @example studentTCdf(2.7764451, 4) // 0.975
 */
export function studentTCdf(x: number, degreesOfFreedom: number): number {
  requireNumber(x)
  requireDegrees(degreesOfFreedom)
  return symmetricCdf(x, (value) => studentTTails(value, degreesOfFreedom))
}

/**
 * Two-sided p value of a t statistic.
 *
 * What for: the p of a change judged by an estimated error. Units: none. Errors: RangeError as `studentTCdf`. Source:
 * checked against scipy.stats.t.sf. Limits: 1e-12 relative.
 *
 * @example studentTTwoSidedP(11.539, 2) // 0.00743
 */
export function studentTTwoSidedP(x: number, degreesOfFreedom: number): number {
  requireNumber(x)
  requireDegrees(degreesOfFreedom)
  return studentTTails(Math.abs(x), degreesOfFreedom).upper
}

/**
 * Student's t quantile. Errors: RangeError unless 0 < probability < 1 and degrees of freedom > 0.
 *
 * What for: critical values of an estimated error. Units: none. Source: inverts the nearer tail; checked against
 * scipy.stats.t.ppf. Limits: 1e-12 relative.
 *
 * @example studentTQuantile(0.975, 4) // 2.776445
 */
export function studentTQuantile(probability: number, degreesOfFreedom: number): number {
  requireProbability(probability)
  requireDegrees(degreesOfFreedom)
  return symmetricQuantile(probability, (value) => studentTTails(value, degreesOfFreedom))
}

/**
 * Distribution function of F with (numerator, denominator) degrees of freedom; 0 below 0.
 *
 * What for: ratios of mean squares. Units: none. Errors: RangeError for NaN or degrees of freedom that are not
 * positive and finite. Source: incomplete beta; checked against scipy.stats.f.cdf. Limits: 1e-12 relative.
 *
 * @example fCdf(3.576415, 5, 15) // 0.975
 */
export function fCdf(x: number, numeratorDegrees: number, denominatorDegrees: number): number {
  requireNumber(x)
  requireDegrees(numeratorDegrees, denominatorDegrees)
  return x <= 0 ? 0 : fTails(x, numeratorDegrees, denominatorDegrees).lower
}

/**
 * Quantile of F. Used by the intervals of intraclass correlations.
 *
 * What for: intervals of intraclass correlations. Units: none. Errors: RangeError unless 0 < probability < 1 and
 * degrees of freedom > 0. Source: checked against scipy.stats.f.ppf. Limits: 1e-12 relative.
 *
 * @example fQuantile(0.975, 5, 15) // 3.576415
 */
export function fQuantile(probability: number, numeratorDegrees: number, denominatorDegrees: number): number {
  requireProbability(probability)
  requireDegrees(numeratorDegrees, denominatorDegrees)
  return positiveQuantile(probability, (x) => fTails(x, numeratorDegrees, denominatorDegrees), 1)
}

/**
 * Distribution function of chi-square; 0 below 0.
 *
 * What for: whether readings scatter more than their stated error. Units: none. Errors: RangeError for NaN or degrees
 * of freedom that are not positive and finite. Source: incomplete gamma; checked against scipy.stats.chi2.cdf.
 * Limits: 1e-12 relative.
 *
 * @example chiSquareCdf(20.483177, 10) // 0.975
 */
export function chiSquareCdf(x: number, degreesOfFreedom: number): number {
  requireNumber(x)
  requireDegrees(degreesOfFreedom)
  return incompleteGamma(degreesOfFreedom / 2, Math.max(0, x) / 2).lower
}

/**
 * Quantile of chi-square. Used by the interval of a standard deviation or a SEM.
 *
 * What for: intervals of a standard deviation. Units: none. Errors: RangeError unless 0 < probability < 1 and degrees
 * of freedom > 0. Source: checked against scipy.stats.chi2.ppf. Limits: 1e-12 relative.
 *
 * @example chiSquareQuantile(0.975, 10) // 20.483177
 */
export function chiSquareQuantile(probability: number, degreesOfFreedom: number): number {
  requireProbability(probability)
  requireDegrees(degreesOfFreedom)
  return positiveQuantile(probability, (x) => incompleteGamma(degreesOfFreedom / 2, x / 2), degreesOfFreedom)
}
