/**
 * Rate of torque development over a window from onset: (torque at the window's end - torque at onset) / window.
 *
 * What for: explosive strength, ISOMETRIC only; in an isokinetic rise the machine and inertia shape it. The torque at the
 * end is read by a straight line between samples. Units: N.m/s; ms. null where the recording ends first.
 * Limits: early windows (to 50-75 ms) reflect activation and are hard to measure (Maffiuletti et al. 2016, Eur J Appl
 * Physiol 116:1091-1116). Source: Aagaard et al. 2002, J Appl Physiol 93:1318-26.
 * Errors: RangeError for a window that is not positive.
 *
 * @example rateOfTorqueDevelopment(200 (1 - exp(-t / 0.1)), 1, 1000, 0, 100) // 1264.2411
 */
export function rateOfTorqueDevelopment(
  torqueNm: Float64Array,
  testedSign: 1 | -1,
  sampleRateHz: number,
  onset: number,
  windowMs: number,
): number | null {
  if (!(windowMs > 0)) throw new RangeError('the window must be positive')
  const at = onset + (windowMs / 1000) * sampleRateHz
  // A window of whole samples must not miss the last one by rounding.
  const near = Math.abs(at - Math.round(at)) < 1e-6 ? Math.round(at) : at
  const left = Math.floor(near)
  if (near > torqueNm.length - 1) return null
  const right = Math.min(left + 1, torqueNm.length - 1)
  const end = torqueNm[left]! + (near - left) * (torqueNm[right]! - torqueNm[left]!)
  return (testedSign * (end - torqueNm[onset]!)) / (windowMs / 1000)
}

/**
 * Peak rate of torque development: the steepest slope over `stepMs` in the first `withinMs` from onset.
 *
 * Units: N.m/s; ms. null where not one step fits. Source: Aagaard et al. 2002, J Appl Physiol 93:1318-26 (2 ms steps).
 * What for: the steepest part of the rise. Errors: none. Limits: a maximum of noisy slopes, so it is biased upwards;
 * heavier filtering lowers it. When not to use it: isokinetic tests.
 *
 * @example peakRateOfTorqueDevelopment(200 (1 - exp(-t / 0.1)), 1, 1000, 0) // 1980.13 (2000 at the instant of onset)
 */
export function peakRateOfTorqueDevelopment(
  torqueNm: Float64Array,
  testedSign: 1 | -1,
  sampleRateHz: number,
  onset: number,
  stepMs = 2,
  withinMs = 200,
): number | null {
  const step = Math.max(1, Math.round((stepMs / 1000) * sampleRateHz))
  const last = Math.min(torqueNm.length - 1, onset + Math.round((withinMs / 1000) * sampleRateHz))
  let steepest: number | null = null
  for (let i = onset; i + step <= last; i++) {
    const slope = (testedSign * (torqueNm[i + step]! - torqueNm[i]!) * sampleRateHz) / step
    if (steepest === null || slope > steepest) steepest = slope
  }
  return steepest
}
