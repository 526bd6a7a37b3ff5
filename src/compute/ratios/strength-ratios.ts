import type { ContractionMode, Measured, ReasonCode } from '../types.ts'

/** not_needed: the limb moves across gravity, not with or against it. */
export type GravityState = 'yes' | 'no' | 'unknown' | 'not_needed'

/** One torque of a ratio, as a positive magnitude, with what decides whether the pair belongs together. */
export interface RatioTorque {
  readonly torqueNm: Measured
  readonly contractionMode: ContractionMode
  readonly velocityDegS: number
  readonly gravityCorrected: GravityState
}

const settled = (state: GravityState): boolean => state === 'yes' || state === 'not_needed'

function gravityReason(first: RatioTorque, second: RatioTorque): ReasonCode | null {
  const states = [first.gravityCorrected, second.gravityCorrected]
  if (states.every(settled)) return null
  if (states.includes('unknown')) return 'gravity_correction_unknown'
  return states.every((state) => state === 'no') ? 'not_gravity_corrected' : 'gravity_state_differs'
}

function quotient(numerator: RatioTorque, denominator: RatioTorque): Measured {
  const reason = gravityReason(numerator, denominator)
  if (reason !== null) return { value: null, reason }
  const above = numerator.torqueNm
  const below = denominator.torqueNm
  if (above.value === null) return above
  if (below.value === null) return below
  if (!Number.isFinite(above.value) || !Number.isFinite(below.value)) throw new RangeError('torques are finite numbers')
  if (above.value < 0 || below.value < 0) return { value: null, reason: 'negative_value' }
  const value = above.value / below.value
  return below.value > 0 && Number.isFinite(value) ? { value } : { value: null, reason: 'zero_denominator' }
}

function requireMode(torque: RatioTorque, mode: ContractionMode, what: string): void {
  if (torque.contractionMode !== mode) throw new RangeError(`${what} is ${mode}, got ${torque.contractionMode}`)
}

function requireSameVelocity(numerator: RatioTorque, denominator: RatioTorque): void {
  if (numerator.velocityDegS !== denominator.velocityDegS) throw new RangeError('both torques need the same velocity')
}

/**
 * Conventional strength ratio: antagonist over agonist, both concentric, at the same velocity (knee: flexors over extensors, H:Q).
 *
 * Formula in words: peak torque of one movement over that of its opposite. Units: none; not a percentage. Torques are magnitudes.
 * Bad data are null with a reason: a missing torque, `zero_denominator`, and gravity: uncorrected or unknown torque makes flexors look strong
 * and extensors weak, so no ratio is given. Errors: RangeError for another mode or unequal velocities.
 * Source: Coombs & Garbutt 2002, J Sports Sci Med 1:56-62. Limits: rises with velocity (Rosene 2001, J Athl Train 36:378-83); its error is larger than that of
 * torque (Sole 2007, Arch Phys Med Rehabil 88:626-31). When not to use it: across velocities, or as a prediction of injury.
 * What for: strength of one muscle group against its opponent.
 * @example flexion 133 N.m over extension 236 N.m at 60 deg/s: 0.5636
 */
export function conventionalRatio(antagonist: RatioTorque, agonist: RatioTorque): Measured {
  requireMode(antagonist, 'isokinetic_concentric', 'the antagonist of a conventional ratio')
  requireMode(agonist, 'isokinetic_concentric', 'the agonist of a conventional ratio')
  requireSameVelocity(antagonist, agonist)
  return quotient(antagonist, agonist)
}

/**
 * Functional (dynamic control) ratio: eccentric antagonist over concentric agonist, at the same velocity.
 *
 * What for: the muscles as they work together: in extension the flexors brake (knee: H ecc over Q con), in flexion the extensors do; the flexion
 * form of the literature is H con over Q ecc, so give the pair with `form: 'concentric_over_eccentric'`.
 * Units: none. Bad data and gravity as in `conventionalRatio`. Errors: RangeError for other modes or unequal velocities.
 * Source: Coombs & Garbutt 2002, J Sports Sci Med 1:56-62; Aagaard 1998, Am J Sports Med 26:231-7.
 * Limits: as `conventionalRatio`; it rises steeply towards extension (Aagaard 1998), so never set peak ratios against
 * angle-specific ones.
 *
 * @example flexion eccentric 184 N.m over extension concentric 236 N.m at 60 deg/s: 0.7797
 */
export function functionalRatio(
  numerator: RatioTorque,
  denominator: RatioTorque,
  form: 'eccentric_over_concentric' | 'concentric_over_eccentric' = 'eccentric_over_concentric',
): Measured {
  const eccentricAbove = form === 'eccentric_over_concentric'
  requireMode(
    numerator,
    eccentricAbove ? 'isokinetic_eccentric' : 'isokinetic_concentric',
    'the numerator of this ratio',
  )
  requireMode(
    denominator,
    eccentricAbove ? 'isokinetic_concentric' : 'isokinetic_eccentric',
    'the denominator of this ratio',
  )
  requireSameVelocity(numerator, denominator)
  return quotient(numerator, denominator)
}

export const MIXED_RATIO_ECCENTRIC_DEG_S = 30
export const MIXED_RATIO_CONCENTRIC_DEG_S = 240

/**
 * Mixed ratio: slow eccentric flexors (30 deg/s) over fast concentric extensors (240 deg/s).
 *
 * Units: none. Bad data and gravity as in `conventionalRatio`. Errors: RangeError for other modes or velocities: with others it is another ratio.
 * Source: Croisier 2008, Am J Sports Med 36:1469-75. Limits: cut-offs belong to a machine family, so they are criteria data, not here.
 * What for: braking strength against fast extension, as in sprinting.
 *
 * @example 120 N.m over 160 N.m: 0.75
 */
export function mixedRatio(eccentricAntagonist: RatioTorque, concentricAgonist: RatioTorque): Measured {
  requireMode(eccentricAntagonist, 'isokinetic_eccentric', 'the antagonist of a mixed ratio')
  requireMode(concentricAgonist, 'isokinetic_concentric', 'the agonist of a mixed ratio')
  if (
    eccentricAntagonist.velocityDegS !== MIXED_RATIO_ECCENTRIC_DEG_S ||
    concentricAgonist.velocityDegS !== MIXED_RATIO_CONCENTRIC_DEG_S
  ) {
    throw new RangeError('a mixed ratio is 30 deg/s eccentric over 240 deg/s concentric')
  }
  return quotient(eccentricAntagonist, concentricAgonist)
}

export interface DenominatorGuard {
  /** Smallest denominator accepted, N.m. */
  readonly minimumNm: number
  /** Smallest share of the agonist's peak torque accepted, 0 to 1. */
  readonly minimumShareOfPeak: number
}

/** Engineering choice, no source: near full extension the extensor torque falls away and the ratio explodes. */
export const DEFAULT_DENOMINATOR_GUARD: DenominatorGuard = { minimumNm: 10, minimumShareOfPeak: 0.2 }

/**
 * Angle-specific ratio: torques of opposite movements at the same joint angle, with a guard against small denominators.
 *
 * Formula in words: antagonist torque at the angle over agonist torque at the same angle, both gravity-corrected, both inside their load range (a torque
 * outside it arrives here as null with its reason). Units: none. Bad data are null with a reason; a denominator below the guard is `denominator_too_small`.
 * Errors: RangeError for unequal angles or a guard out of range.
 * Source: Aagaard 1998, Am J Sports Med 26:231-7; Kellis 2007, PMC2140073 (3.14, SD 1.95, at full extension: why the guard).
 * Limits: never average ratios across angles. When not to use it: near full extension.
 * What for: the ratio at one joint angle instead of between two peaks.
 * @example antagonist 60 N.m, agonist 120 N.m at 40 deg, agonist peak 200 N.m: 0.5; agonist 25 N.m at 5 deg: denominator_too_small
 */
export function angleSpecificRatio(input: {
  readonly antagonist: RatioTorque & { readonly angleDeg: number }
  readonly agonist: RatioTorque & { readonly angleDeg: number }
  readonly agonistPeakTorqueNm: Measured
  readonly guard?: DenominatorGuard
}): Measured {
  const { antagonist, agonist, agonistPeakTorqueNm, guard = DEFAULT_DENOMINATOR_GUARD } = input
  if (antagonist.angleDeg !== agonist.angleDeg) throw new RangeError('both torques need the same angle')
  if (!(guard.minimumNm >= 0 && guard.minimumShareOfPeak >= 0 && guard.minimumShareOfPeak <= 1)) {
    throw new RangeError('a guard is a torque of 0 or more and a share from 0 to 1')
  }
  const ratio = quotient(antagonist, agonist)
  if (ratio.value === null) return ratio
  if (agonistPeakTorqueNm.value === null) return agonistPeakTorqueNm
  const smallest = Math.max(guard.minimumNm, guard.minimumShareOfPeak * agonistPeakTorqueNm.value)
  return (agonist.torqueNm.value as number) >= smallest ? ratio : { value: null, reason: 'denominator_too_small' }
}
