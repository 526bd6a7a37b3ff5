/**
 * Suspicions about a channel, from the numbers alone. Each answers "does this look like that mistake", never more.
 */

/**
 * Longest stay at the largest magnitude, in samples, where it looks like a clipped converter; else 0.
 *
 * Clipped: at least `minimumSamples` equal samples at the extreme, entered and left by a step of at least twice the
 * signal's resolution (its smallest step) and a ten-thousandth of the extreme. A rounded signal tops out over equal
 * samples too, but enters them by one resolution step; one that levels off enters them by next to nothing.
 * Engineering rule, no source. Linear in time.
 * What for: a saturated torque hides the peak. Units: any, samples. Errors: none; an empty or silent channel is 0.
 * Limits: a clipped channel that was filtered afterwards is not seen.
 *
 * @example clippedRun(Float64Array.of(0, 3, 7.5, 9, 9, 9, 9, 9, 7.2, 3.3), 5) // 5
 */
export function clippedRun(signal: Float64Array, minimumSamples: number): number {
  let extreme = 0
  let resolution = Infinity
  let previous = signal[0] ?? 0
  for (let i = 0; i < signal.length; i++) {
    const value = signal[i]!
    const size = Math.abs(value)
    if (size > extreme) extreme = size
    const step = Math.abs(value - previous)
    if (step > 0 && step < resolution) resolution = step
    previous = value
  }
  if (!(extreme > 0)) return 0
  const jump = Math.max(2 * resolution, 1e-4 * extreme)
  let longest = 0
  let i = 0
  while (i < signal.length) {
    if (Math.abs(signal[i]!) !== extreme) {
      i += 1
      continue
    }
    let next = i
    while (next < signal.length && signal[next] === signal[i]) next += 1
    // Over two samples: the last one before the stop may lie anywhere below it.
    const entered = i > 1 && Math.abs(signal[i]! - signal[i - 2]!) >= jump
    const left = next + 1 < signal.length && Math.abs(signal[next - 1]! - signal[next + 1]!) >= jump
    if (entered && left && next - i >= minimumSamples) longest = Math.max(longest, next - i)
    i = next
  }
  return longest
}

/**
 * Whether an angle channel declared in degrees looks like radians: its range is too small for a limb in degrees (under
 * 2 pi), and its fastest movement (as `fastestDegS`) is the set velocity divided by 57.3, within a quarter.
 * What for: an angle in radians empties every load range without saying why. Units: deg, deg/s. Errors: none. Source:
 * engineering choice, no source. Limits: needs a movement at the set velocity; isometric tests are not judged.
 *
 * @example looksLikeRadians({ range: 1.57, fastest: 1.05, setVelocityDegS: 60 }) // true
 */
export function looksLikeRadians(seen: { range: number; fastest: number; setVelocityDegS: number }): boolean {
  if (!(seen.setVelocityDegS > 0) || seen.range >= 2 * Math.PI) return false
  const ratio = (seen.fastest * 180) / Math.PI / seen.setVelocityDegS
  return ratio > 0.75 && ratio < 1.35
}

/**
 * How a recorded velocity goes with the derivative of the angle: the least-squares factor k in recorded = k * derived.
 *
 * 1: they agree; -1: opposite signs; 0.0175 or 57.3: one is in radians. null where nothing moved.
 * What for: a velocity that contradicts its angle is not used. Units: both deg/s. Errors: none; both have one length.
 * Source: least squares through the origin. Limits: one number for the whole recording.
 *
 * @example velocityFactor(Float64Array.of(0, -60, -60), Float64Array.of(0, 60, 60)) // -1
 */
export function velocityFactor(recorded: Float64Array, derived: Float64Array): number | null {
  let cross = 0
  let square = 0
  for (let i = 0; i < derived.length; i++) {
    cross += recorded[i]! * derived[i]!
    square += derived[i]! ** 2
  }
  return square > 0 ? cross / square : null
}

/**
 * Mean muscle power over the moving samples: positive, the muscle shortens; negative, it is stretched. W.
 *
 * What for: a concentric test whose total is clearly negative was recorded with another sign than declared.
 * Units: N.m, deg/s -> W. Errors: none. Source: definition of power. Limits: a passive limb is near 0 and proves
 * nothing.
 *
 * @example meanMusclePowerW(Float64Array.of(100, 100), Float64Array.of(57.29578, 57.29578), 6) // 100
 */
export function meanMusclePowerW(
  torqueNm: Float64Array,
  velocityDegS: Float64Array,
  movingDegS: number,
): number | null {
  let power = 0
  let moving = 0
  for (let i = 0; i < torqueNm.length; i++) {
    if (Math.abs(velocityDegS[i]!) < movingDegS) continue
    power += torqueNm[i]! * velocityDegS[i]!
    moving += 1
  }
  return moving > 0 ? (power / moving) * (Math.PI / 180) : null
}
