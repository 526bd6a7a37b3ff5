/** A peak inside a window of samples. Torque in the tested sign. */
export interface Peak {
  readonly index: number
  readonly torqueNm: number
  readonly angleDeg: number
}

/**
 * Peak torque and its angle: the largest muscle torque IN THE TESTED SIGN inside the window (the load range).
 *
 * What for: the most reproducible strength measure. Conventions: never the antagonist's torque; null where nothing in the
 * window is above zero. The angle is the vertex of a parabola fitted to torque against angle over the stretch around the
 * peak that stays above `fitAbovePercent` of it, kept inside that stretch: on a flat top the largest sample is where the
 * noise happens to be. 100: the sample's own angle. The torque stays the largest sample.
 * Units: N.m, deg. Limits: the angle is much less reproducible than the torque (reported ICC below 0.67; Ferri-Morales
 * 2014, Isokinet Exerc Sci 22). When not to use it: on a window that includes an impact or inertia (Winter, Wells & Orr
 * 1981, Eur J Appl Physiol 46:397-408, "false early peaks").
 * Errors: none. Source: definition; the fit of the angle is an engineering choice.
 *
 * @example peakTorque(200 sin(2 angle) over 0..90 deg, angle, 1, 0, 90, 90) // { torqueNm: 200, angleDeg: 45, index: 45 }
 */
export function peakTorque(
  torqueNm: Float64Array,
  angleDeg: Float64Array,
  testedSign: 1 | -1,
  from: number,
  to: number,
  fitAbovePercent: number,
): Peak | null {
  let index = -1
  let most = 0
  for (let i = from; i <= to; i++) {
    const torque = testedSign * torqueNm[i]!
    if (torque > most) {
      most = torque
      index = i
    }
  }
  if (index < 0) return null
  return {
    index,
    torqueNm: most,
    angleDeg: vertexAngle(torqueNm, angleDeg, testedSign, from, to, index, fitAbovePercent),
  }
}

function vertexAngle(
  torqueNm: Float64Array,
  angleDeg: Float64Array,
  testedSign: 1 | -1,
  from: number,
  to: number,
  peak: number,
  fitAbovePercent: number,
): number {
  const level = (fitAbovePercent / 100) * testedSign * torqueNm[peak]!
  let left = peak
  while (left > from && testedSign * torqueNm[left - 1]! >= level) left -= 1
  let right = peak
  while (right < to && testedSign * torqueNm[right + 1]! >= level) right += 1
  const centre = angleDeg[peak]!
  // Normal equations of torque = c0 + c1 x + c2 x^2, x = angle from the sample of the peak: small numbers, well behaved.
  let s1 = 0
  let s2 = 0
  let s3 = 0
  let s4 = 0
  let t0 = 0
  let t1 = 0
  let t2 = 0
  const n = right - left + 1
  for (let i = left; i <= right; i++) {
    const x = angleDeg[i]! - centre
    const y = testedSign * torqueNm[i]!
    s1 += x
    s2 += x * x
    s3 += x * x * x
    s4 += x * x * x * x
    t0 += y
    t1 += y * x
    t2 += y * x * x
  }
  const determinant = n * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s2 * s3) + s2 * (s1 * s3 - s2 * s2)
  if (n < 5 || !(Math.abs(determinant) > 1e-9 * n * s2 * s4)) return centre
  const slope = (n * (t1 * s4 - t2 * s3) - t0 * (s1 * s4 - s2 * s3) + s2 * (s1 * t2 - s2 * t1)) / determinant
  const curve = (n * (s2 * t2 - s3 * t1) - s1 * (s1 * t2 - s2 * t1) + t0 * (s1 * s3 - s2 * s2)) / determinant
  if (!(curve < 0)) return centre
  const lowest = Math.min(angleDeg[left]!, angleDeg[right]!)
  const highest = Math.max(angleDeg[left]!, angleDeg[right]!)
  return Math.min(highest, Math.max(lowest, centre - slope / (2 * curve)))
}

/**
 * Whether a peak lies in the first or last `edgePercent` of the window's angle: a decaying impact lies inside the velocity
 * band, and a torque still rising where the window ends was not at its peak.
 * What for: a flag to look again. Units: deg, %. Errors: none. Source: engineering choice, no source. Limits: a true
 * peak may lie there where the range was short; it is flagged, never taken away.
 *
 * @example peakAtEdge(88, 90, 0, 5) // true
 */
export function peakAtEdge(
  peakAngleDeg: number,
  startAngleDeg: number,
  endAngleDeg: number,
  edgePercent: number,
): boolean {
  const span = Math.abs(endAngleDeg - startAngleDeg)
  const edge = (edgePercent / 100) * span
  return Math.min(Math.abs(peakAngleDeg - startAngleDeg), Math.abs(peakAngleDeg - endAngleDeg)) < edge
}
