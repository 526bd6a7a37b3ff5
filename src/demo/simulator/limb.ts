/** The passive load on the axis: limb, arm and attachment as one rigid body turning about the knee. */
export interface LimbModel {
  /** Largest gravity moment of limb, arm and attachment about the axis, N.m. */
  readonly gravityMomentNm: number
  /** How far the line of the mass hangs below the shank line; 0 is the plain cosine law. */
  readonly gravityPhaseDeg: number
  /** How far the thigh is raised above the horizontal. */
  readonly thighRaiseDeg: number
  readonly inertiaKgM2: number
}

export const ADULT_SHANK: LimbModel = { gravityMomentNm: 12, gravityPhaseDeg: 0, thighRaiseDeg: 0, inertiaKgM2: 0.45 }

const RADIANS_PER_DEGREE = Math.PI / 180

/** Pull of gravity towards flexion at a knee flexion angle, seated. */
export function gravityPullNm(limb: LimbModel, kneeFlexionDeg: number): number {
  const belowHorizontalDeg = kneeFlexionDeg - limb.thighRaiseDeg + limb.gravityPhaseDeg
  return limb.gravityMomentNm * Math.cos(belowHorizontalDeg * RADIANS_PER_DEGREE)
}

/** Torque that only speeds the limb up or slows it down. */
export function inertialTorqueNm(limb: LimbModel, accelerationDegS2: number): number {
  return limb.inertiaKgM2 * accelerationDegS2 * RADIANS_PER_DEGREE
}

/** What the machine reads when it holds the relaxed limb still: the weight's magnitude. */
export function staticLimbWeighing(
  limb: LimbModel,
  kneeFlexionDeg: number,
): { readonly limbAngleBelowHorizontalDeg: number; readonly torqueNm: number } {
  return {
    limbAngleBelowHorizontalDeg: kneeFlexionDeg - limb.thighRaiseDeg,
    torqueNm: gravityPullNm(limb, kneeFlexionDeg),
  }
}
