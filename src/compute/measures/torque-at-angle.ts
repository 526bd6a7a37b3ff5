/**
 * Angle-specific torque: muscle torque in the tested sign at a chosen angle, by a straight line between the two samples on
 * either side, inside the window only.
 *
 * null outside the window: never extrapolated. Where a noisy angle crosses twice, the first crossing counts.
 * Units: deg -> N.m. Source: common practice, no source.
 * What for: comparing limbs at one muscle length, where the peaks lie at different angles. Errors: none. Limits: an
 * axis offset or another anatomical zero moves the angle.
 *
 * @example torqueAtAngle([150, 152, 156, 158], [58, 59, 61, 62], 1, 0, 3, 60) // 154
 */
export function torqueAtAngle(
  torqueNm: Float64Array,
  angleDeg: Float64Array,
  testedSign: 1 | -1,
  from: number,
  to: number,
  atDeg: number,
): number | null {
  for (let i = from; i < to; i++) {
    const before = angleDeg[i]! - atDeg
    const after = angleDeg[i + 1]! - atDeg
    if (before * after > 0) continue
    const part = after === before ? 0 : -before / (after - before)
    return testedSign * (torqueNm[i]! + part * (torqueNm[i + 1]! - torqueNm[i]!))
  }
  return null
}
