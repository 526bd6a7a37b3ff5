import type { GravityCorrection, GravityModel, LimbOrientation, TorqueState, YesNoUnknown } from '../types.ts'
import { interpolateAscending } from '../numeric/interpolate.ts'

const RADIANS = Math.PI / 180

/** Standard gravity, m/s2 (exact by definition). */
export const STANDARD_GRAVITY = 9.80665

/**
 * Angle of the limb below horizontal at a joint angle, degrees.
 *
 * What for: gravity acts by the limb's angle to the horizontal, not by the joint angle. Units: deg. Errors: none.
 * Source: geometry. Limits: a limb that moves in a vertical plane only.
 *
 * @example limbAngleBelowHorizontalDeg(60, { belowHorizontalAtZeroDeg: -5, perJointDegree: 1 }) // 55
 */
export function limbAngleBelowHorizontalDeg(angleDeg: number, orientation: LimbOrientation): number {
  return orientation.belowHorizontalAtZeroDeg + orientation.perJointDegree * angleDeg
}

/**
 * Passive torque (gravity on limb, arm and attachment) that the machine measures at a joint angle while the muscle is
 * silent; positive in the first movement.
 *
 * What for: the muscle's torque is the measured torque minus this. One signed rule serves both directions: seated knee
 * extension goes up by G cos(a), flexion down by it. Formula: with a = angle below horizontal, the weight lowers the
 * limb, so the torque is -s (A cos a + B sin a), where s = +1 if the joint angle grows as the limb sinks.
 * B > 0: mass in front of the arm's line; B < 0: behind or below it.
 * Units: N.m from degrees. null: outside a passive sweep, which is never extrapolated.
 * Limits: no inertia, so only right at constant velocity; the cosine does not fit prostheses, measure a sweep.
 * Source: Winter, Wells & Orr 1981, Eur J Appl Physiol 46:397-408 (why); Anderson et al. 2010, J Biomech 43:1220-3 (phase).
 * Errors: none.
 *
 * @example passiveTorqueNm({ kind: 'cosine', momentNm: 11.7046, orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 } }, 60) // -5.8523
 */
export function passiveTorqueNm(model: GravityModel, angleDeg: number): number | null {
  switch (model.kind) {
    case 'horizontal_plane':
      return 0
    case 'passive_sweep':
      return interpolateAscending(model.angleDeg, model.passiveTorqueNm, angleDeg)
    case 'cosine': {
      const a = limbAngleBelowHorizontalDeg(angleDeg, model.orientation) * RADIANS
      return -model.orientation.perJointDegree * model.momentNm * Math.cos(a)
    }
    case 'phase_shifted': {
      const a = limbAngleBelowHorizontalDeg(angleDeg, model.orientation) * RADIANS
      return -model.orientation.perJointDegree * (model.cosineNm * Math.cos(a) + model.sineNm * Math.sin(a))
    }
  }
}

/**
 * Joint angles over which a model may be used; null: all.
 *
 * What for: samples outside what a passive sweep measured must not enter a measure. Units: deg. Errors: none. Source:
 * engineering choice, no source.
 * Limits: of the sweep alone; a cosine covers every angle.
 *
 * @example coveredAngles({ kind: 'passive_sweep', angleDeg: [0, 90], passiveTorqueNm: [-12, -3] }) // [0, 90]
 */
export function coveredAngles(model: GravityModel): readonly [lowDeg: number, highDeg: number] | null {
  if (model.kind !== 'passive_sweep') return null
  return [model.angleDeg[0] ?? 0, model.angleDeg.at(-1) ?? 0]
}

/**
 * Muscle torque: measured torque minus the passive torque at each sample's angle. N.m, positive in the first movement.
 *
 * Outside the angles a passive sweep covers, the sweep's end value is taken off, so that the signal has no jump for the
 * filter to ring on; those samples must not enter a measure (`coveredAngles`).
 * When not to use it: on torque that is already corrected or of unknown state (see `correctionFor`).
 * What for: torque of the muscle alone. Units: N.m, deg. Errors: none; the arrays have one length. Source: as
 * `passiveTorqueNm`. Limits: leaves inertia in, so it is only right at constant velocity.
 *
 * @example correctForGravity(Float64Array.of(180), Float64Array.of(60), weighed12NmAt30Deg)[0] // 186.9282
 */
export function correctForGravity(measuredNm: Float64Array, angleDeg: Float64Array, model: GravityModel): Float64Array {
  const out = new Float64Array(measuredNm.length)
  if (model.kind === 'horizontal_plane') {
    out.set(measuredNm)
  } else if (model.kind === 'passive_sweep') {
    const low = model.angleDeg[0] ?? 0
    const high = model.angleDeg.at(-1) ?? 0
    for (let i = 0; i < out.length; i++) {
      const angle = Math.min(high, Math.max(low, angleDeg[i]!))
      out[i] = measuredNm[i]! - (interpolateAscending(model.angleDeg, model.passiveTorqueNm, angle) ?? 0)
    }
  } else {
    // The same rule as passiveTorqueNm, as one shifted cosine: A cos a + B sin a = R cos(a - p).
    const { perJointDegree, belowHorizontalAtZeroDeg } = model.orientation
    const cosine = model.kind === 'cosine' ? model.momentNm : model.cosineNm
    const sine = model.kind === 'cosine' ? 0 : model.sineNm
    const amplitude = perJointDegree * Math.hypot(cosine, sine)
    const shift = belowHorizontalAtZeroDeg * RADIANS - Math.atan2(sine, cosine)
    const slope = perJointDegree * RADIANS
    for (let i = 0; i < out.length; i++) out[i] = measuredNm[i]! + amplitude * Math.cos(shift + slope * angleDeg[i]!)
  }
  return out
}

/**
 * Whether a recording is to be corrected, and what it will be called. Never twice: torque already corrected, or whose
 * state nobody knows, is left alone whatever model there is. Corrected twice, a hamstring to quadriceps ratio of 0.471
 * becomes 0.392.
 * What for: the one place that decides about correcting. Units: none. Errors: none. Source: derived; only 9 of 39
 * studies reported correction at all (Undheim 2015, Br J Sports Med 49:1305-10), hence three states.
 * Limits: believes what the recording declares.
 *
 * @example correctionFor('unknown', model) // { apply: null, corrected: 'unknown', name: 'unknown' }
 */
export function correctionFor(
  state: TorqueState,
  model: GravityModel | null,
): { readonly apply: GravityModel | null; readonly corrected: YesNoUnknown; readonly name: GravityCorrection } {
  if (state === 'gravity_corrected') return { apply: null, corrected: 'yes', name: 'corrected_by_device' }
  if (state === 'unknown') return { apply: null, corrected: 'unknown', name: 'unknown' }
  if (model === null) return { apply: null, corrected: 'no', name: 'none' }
  return { apply: model, corrected: 'yes', name: MODEL_NAMES[model.kind] }
}

const MODEL_NAMES: Readonly<Record<GravityModel['kind'], GravityCorrection>> = {
  cosine: 'limb_weighing_cosine',
  phase_shifted: 'limb_weighing_phase_shifted',
  passive_sweep: 'passive_sweep',
  horizontal_plane: 'horizontal_plane',
}
