/** Where the knee axis lies, seen from the machine's axis: forward along the horizontal thigh, and up. */
export interface AxisOffset {
  readonly forwardMm: number
  readonly upMm: number
}

export interface Misalignment {
  readonly kneeAngleDeg: number
  /** Arm-fixed pad: distance of the pad from the knee axis along the shin. Shin-fixed pad: of the pad from the machine's axis. */
  readonly padDistanceMm: number
  /** Knee angle minus machine angle. */
  readonly angleErrorDeg: number
  /** Torque the machine shows / torque about the knee. */
  readonly torqueRatio: number
}

const RAD_PER_DEG = Math.PI / 180

/**
 * Misalignment of a pad fixed on the machine's arm: what an offset of the knee axis does to pad position, angle and torque.
 *
 * Formula: beta = knee angle (shank below horizontal, thigh level), u = (cos beta, -sin beta), K = offset, R = lever arm.
 * Angle error e = asin((forward sin beta + up cos beta) / R); pad along the shin s = R cos e - K.u; torque ratio = R cos e / s
 * (virtual work: it is also d(knee angle) / d(machine angle)). To first order the torque is wrong by (K.u) / R: a forward offset spoils
 * torque near extension and angle near 90 deg, a vertical one the reverse.
 *
 * Units: mm, deg. Answers null where the linkage cannot be closed (offset beyond the arm, pad at or past the knee axis).
 * Errors: RangeError for a lever arm that is not positive or numbers that are not finite.
 * Source: derived; agrees to first order with Isokinet Exerc Sci 1997 6(4), doi 10.3233/IES-1997-6404 (4 cm on 40 cm: 10 % first order,
 * 11.1 % exact). Limits: rigid links, pad without friction; soft tissue hides part of it, and the thigh rises under load.
 * What for: how far off torque and angle are for a known offset.
 *
 * @example misalignmentPadOnArm({ forwardMm: 20, upMm: 0 }, 300, 0)?.torqueRatio // 1.0714285714285714
 */
export function misalignmentPadOnArm(
  offset: AxisOffset,
  leverArmMm: number,
  kneeAngleDeg: number,
): Misalignment | null {
  requireUsable(offset, leverArmMm, kneeAngleDeg)
  const [cos, sin] = [Math.cos(kneeAngleDeg * RAD_PER_DEG), Math.sin(kneeAngleDeg * RAD_PER_DEG)]
  const sineOfError = (offset.forwardMm * sin + offset.upMm * cos) / leverArmMm
  if (Math.abs(sineOfError) >= 1) return null
  const error = Math.asin(sineOfError)
  const along = offset.forwardMm * cos - offset.upMm * sin
  const padDistanceMm = leverArmMm * Math.cos(error) - along
  if (padDistanceMm <= 0) return null
  return {
    kneeAngleDeg,
    padDistanceMm,
    angleErrorDeg: error / RAD_PER_DEG,
    torqueRatio: (leverArmMm * Math.cos(error)) / padDistanceMm,
  }
}

/**
 * Misalignment of a pad fixed on the shin that slides along the machine's arm.
 *
 * Formula: pad at P = K + s0 u; r = |P|; machine angle = atan2(-P up, P forward); e = knee angle minus machine angle; torque ratio
 * = r / (s0 cos e). Conventions, units, errors and limits as `misalignmentPadOnArm`; s0 = distance of the pad from the knee axis.
 * Source: derived.
 * What for: the same for a pad that stays on the shin. Units: mm, deg. Errors: as `misalignmentPadOnArm`. Limits: rigid
 * links.
 *
 * @example misalignmentPadOnShin({ forwardMm: 20, upMm: 0 }, 300, 0)?.padDistanceMm // 320
 */
export function misalignmentPadOnShin(
  offset: AxisOffset,
  padFromKneeMm: number,
  kneeAngleDeg: number,
): Misalignment | null {
  requireUsable(offset, padFromKneeMm, kneeAngleDeg)
  const beta = kneeAngleDeg * RAD_PER_DEG
  const forward = offset.forwardMm + padFromKneeMm * Math.cos(beta)
  const up = offset.upMm - padFromKneeMm * Math.sin(beta)
  const padDistanceMm = Math.hypot(forward, up)
  const error = beta - Math.atan2(-up, forward)
  // atan2 may answer a full turn away; the error itself is small
  const turned = Math.atan2(Math.sin(error), Math.cos(error))
  if (padDistanceMm <= 0 || Math.cos(turned) <= 0) return null
  return {
    kneeAngleDeg,
    padDistanceMm,
    angleErrorDeg: turned / RAD_PER_DEG,
    torqueRatio: padDistanceMm / (padFromKneeMm * Math.cos(turned)),
  }
}

export interface MisalignmentOverRange {
  readonly points: readonly Misalignment[]
  /** The largest error of the shown torque by size, with its sign: 100 x (ratio - 1). */
  readonly largestTorqueErrorPct: number
  /** The largest angle error by size, with its sign. */
  readonly largestAngleErrorDeg: number
}

/**
 * Misalignment over a range of motion: what an axis offset does to torque and angle from one stop to the other.
 *
 * Steps of at most 5 deg, both ends included. Answers null where the linkage cannot be closed somewhere in the range.
 * Errors: as `misalignmentPadOnArm`; RangeError for a pad that is mounted on neither arm nor shin.
 * What for: the size of the error an offset makes in a whole test. Units: mm, deg, %. Source and limits: as
 * `misalignmentPadOnArm`.
 *
 * @example misalignmentOverRange({ forwardMm: 20, upMm: 0 }, 'arm', 300, 0, 90)?.largestTorqueErrorPct // 7.142857142857140
 */
export function misalignmentOverRange(
  offset: AxisOffset,
  padMountedOn: 'arm' | 'shin',
  distanceMm: number,
  fromDeg: number,
  toDeg: number,
): MisalignmentOverRange | null {
  requireUsable(offset, distanceMm, fromDeg)
  requireUsable(offset, distanceMm, toDeg)
  const steps = Math.max(1, Math.ceil(Math.abs(toDeg - fromDeg) / 5))
  const points: Misalignment[] = []
  for (let i = 0; i <= steps; i++) {
    const angle = fromDeg + ((toDeg - fromDeg) * i) / steps
    const point = misalignment(offset, padMountedOn, distanceMm, angle)
    if (point === null) return null
    points.push(point)
  }
  const largest = (values: readonly number[]): number => values.reduce((a, b) => (Math.abs(b) > Math.abs(a) ? b : a))
  return {
    points,
    largestTorqueErrorPct: largest(points.map((point) => 100 * (point.torqueRatio - 1))),
    largestAngleErrorDeg: largest(points.map((point) => point.angleErrorDeg)),
  }
}

/** Either pad model by name. */
export function misalignment(
  offset: AxisOffset,
  padMountedOn: 'arm' | 'shin',
  distanceMm: number,
  kneeAngleDeg: number,
): Misalignment | null {
  switch (padMountedOn) {
    case 'arm':
      return misalignmentPadOnArm(offset, distanceMm, kneeAngleDeg)
    case 'shin':
      return misalignmentPadOnShin(offset, distanceMm, kneeAngleDeg)
    default:
      throw new RangeError(`a pad is mounted on arm or shin, not "${String(padMountedOn)}"`)
  }
}

function requireUsable(offset: AxisOffset, distanceMm: number, angleDeg: number): void {
  if (![offset.forwardMm, offset.upMm, distanceMm, angleDeg].every(Number.isFinite)) {
    throw new RangeError('offset, distance and angle must be finite numbers')
  }
  if (distanceMm <= 0) throw new RangeError(`a distance must be positive, got ${distanceMm} mm`)
}
