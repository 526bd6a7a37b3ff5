/**
 * Standard deviation of the white noise on a smooth signal: median absolute second difference / (0.6745 sqrt 6).
 *
 * What for: deciding how hard an angle must be filtered before it is differentiated. The median of up to 1001 differences
 * across the recording: a movement's acceleration is in few of them. Units: those of the signal. Limits: rounding to a
 * coarse step can make it 0. Source of the scale: normal distribution; differencing [1 -2 1] has variance 6.
 * Errors: RangeError for fewer than 3 samples.
 *
 * @example noiseSd(straight line with normal noise of SD 0.05) // about 0.05
 */
export function noiseSd(signal: Float64Array): number {
  if (signal.length < 3) throw new RangeError('noise needs at least 3 samples')
  const stride = Math.max(1, Math.floor(signal.length / 1001)) | 1
  const differences: number[] = []
  for (let i = 1; i < signal.length - 1; i += stride) {
    differences.push(Math.abs(signal[i - 1]! - 2 * signal[i]! + signal[i + 1]!))
  }
  differences.sort((a, b) => a - b)
  return differences[Math.floor(differences.length / 2)]! / (0.6745 * Math.sqrt(6))
}

/**
 * Highest low-pass cutoff at which the derivative of a signal with white noise has at most the allowed noise.
 *
 * Formula: white noise of SD s at rate fs, low-passed at fc and differentiated, has SD 2 pi s fc sqrt(2 fc / (3 fs)); solved
 * for fc. Infinity without noise. Units: Hz.
 *
 * @example quietCutoffHz(0.1, 1, 1000) // 15.6
 */
export function quietCutoffHz(noise: number, allowedPerSecond: number, sampleRateHz: number): number {
  if (!(noise > 0)) return Infinity
  return (allowedPerSecond / (2 * Math.PI * noise * Math.sqrt(2 / (3 * sampleRateHz)))) ** (2 / 3)
}
