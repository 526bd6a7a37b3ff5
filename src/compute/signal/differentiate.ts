/**
 * First derivative of an evenly sampled signal: central differences inside, one-sided of second order at the ends.
 *
 * What for: angular velocity from a filtered angle. Formula: (x[i+1] - x[i-1]) / (2 dt); ends -3, 4, -1 over 2 dt.
 * Units: those of the signal per second. Exact for straight lines and parabolas. Limits: doubles noise at high
 * frequency, so filter first. Errors: RangeError for fewer than 3 samples or a non-positive rate.
 * Source: Winter 2009, ch. 3 (finite differences).
 *
 * @example differentiate(Float64Array.of(0, 1, 4, 9), 1) // [0, 2, 4, 6]
 */
export function differentiate(signal: Float64Array, sampleRateHz: number): Float64Array {
  const n = signal.length
  if (n < 3) throw new RangeError('differentiation needs at least 3 samples')
  if (!(sampleRateHz > 0)) throw new RangeError('sample rate must be positive')
  const half = sampleRateHz / 2
  const out = new Float64Array(n)
  for (let i = 1; i < n - 1; i++) out[i] = (signal[i + 1]! - signal[i - 1]!) * half
  out[0] = (4 * signal[1]! - 3 * signal[0]! - signal[2]!) * half
  out[n - 1] = (3 * signal[n - 1]! - 4 * signal[n - 2]! + signal[n - 3]!) * half
  return out
}
