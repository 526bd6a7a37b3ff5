/**
 * What a muscle group can do: isometric torque by angle, times a factor for velocity, times activation.
 * Shapes follow Hill 1938 Proc R Soc B 126:136-95 (concentric hyperbola); the constants are illustrative, chosen so that
 * torque at 180 and 300 deg/s stands to torque at 60 as in Fousekis 2010 J Sports Sci Med 9:364 (0.70 and 0.56).
 */
export interface MuscleModel {
  /** Isometric torque at the best angle, fully active, N.m. */
  readonly maximumTorqueNm: number
  readonly optimumAngleDeg: number
  /**
   * Degrees by which the optimum moves for each deg/s of shortening: in fast movements the peak comes later in the range
   * (a textbook observation; the size is from memory).
   */
  readonly optimumShiftDegPerDegS: number
  /** The torque-angle bell is exp(-((angle - optimum) / width)^2). */
  readonly widthDeg: number
  /** Speed at which concentric torque vanishes, deg/s. */
  readonly maximumVelocityDegS: number
  /** Curvature of the hyperbola: smaller is more curved. */
  readonly hillCurvature: number
  /** Eccentric plateau as a multiple of isometric torque. */
  readonly eccentricCeiling: number
  /** Lengthening speed at which half the eccentric gain is reached, deg/s. */
  readonly eccentricHalfVelocityDegS: number
}

export const KNEE_EXTENSORS: MuscleModel = {
  maximumTorqueNm: 210,
  optimumAngleDeg: 62,
  optimumShiftDegPerDegS: -0.04,
  widthDeg: 50,
  maximumVelocityDegS: 1200,
  hillCurvature: 0.38,
  eccentricCeiling: 1.3,
  eccentricHalfVelocityDegS: 60,
}

export const KNEE_FLEXORS: MuscleModel = {
  maximumTorqueNm: 115,
  optimumAngleDeg: 32,
  optimumShiftDegPerDegS: 0.04,
  widthDeg: 55,
  maximumVelocityDegS: 1300,
  hillCurvature: 0.6,
  eccentricCeiling: 1.3,
  eccentricHalfVelocityDegS: 60,
}

export function torqueAngleFactor(muscle: MuscleModel, angleDeg: number, shorteningDegS: number): number {
  const optimum = muscle.optimumAngleDeg + muscle.optimumShiftDegPerDegS * Math.max(0, shorteningDegS)
  return Math.exp(-(((angleDeg - optimum) / muscle.widthDeg) ** 2))
}

/** shorteningDegS is positive while the muscle shortens (concentric), negative while it is lengthened (eccentric). */
export function torqueVelocityFactor(muscle: MuscleModel, shorteningDegS: number): number {
  const relative = shorteningDegS / muscle.maximumVelocityDegS
  if (relative >= 1) return 0
  if (relative >= 0) return (1 - relative) / (1 + relative / muscle.hillCurvature)
  const lengthening = -shorteningDegS
  return 1 + (muscle.eccentricCeiling - 1) * (lengthening / (lengthening + muscle.eccentricHalfVelocityDegS))
}

/** Full activation; always positive, whichever way the muscle turns the joint. */
export function availableTorqueNm(muscle: MuscleModel, angleDeg: number, shorteningDegS: number): number {
  return (
    muscle.maximumTorqueNm *
    torqueAngleFactor(muscle, angleDeg, shorteningDegS) *
    torqueVelocityFactor(muscle, shorteningDegS)
  )
}
