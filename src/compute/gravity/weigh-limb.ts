import { mean } from '../numeric/descriptive.ts'
import type { Finding, GravityModel, LimbOrientation, LimbWeighing, ReasonCode } from '../types.ts'

const RADIANS = Math.PI / 180

/** Nearer to vertical than this, the reading is divided by almost nothing: 1 N.m of error becomes more than 2. */
export const LEAST_COSINE = 0.5

/**
 * Maximum gravity moment from one weighing: reading divided by the cosine of the limb's angle below horizontal.
 *
 * What for: the G of T = T_measured + G cos a. Units: N.m, degrees. The reading is positive where the machine holds the
 * limb up. null where |cos a| < 0.5 (engineering rule, no source). Limits: near full extension of a seated knee the passive
 * hamstrings are weighed as limb; 30 to 45 deg of flexion or a sweep is better.
 * Source: Nelson & Duncan 1983, Phys Ther 63:674-6; Winter, Wells & Orr 1981, Eur J Appl Physiol 46:397-408.
 * Errors: RangeError for a number that is not finite.
 *
 * @example gravityMomentNm(12, 30) // 13.8564
 */
export function gravityMomentNm(readingNm: number, limbAngleBelowHorizontalDeg: number): number | null {
  if (!Number.isFinite(readingNm) || !Number.isFinite(limbAngleBelowHorizontalDeg)) {
    throw new RangeError('a weighing needs finite numbers')
  }
  const cosine = Math.cos(limbAngleBelowHorizontalDeg * RADIANS)
  return Math.abs(cosine) < LEAST_COSINE - 1e-12 ? null : readingNm / cosine
}

/**
 * Least-squares fit of A cos a + B sin a to readings at several angles below horizontal.
 *
 * What for: limb mass that does not lie on the arm's line shifts the cosine. Amplitude sqrt(A^2 + B^2), phase
 * atan2(-B, A). Solved by Gram-Schmidt on the two columns. Units: N.m, degrees. null where the angles do not tell cosine
 * from sine (fewer than 2, or all within about 3 degrees: condition worse than 1:20).
 * `residualSdNm` is the spread about the fit on n - 2, null with only two readings.
 * Source: Anderson et al. 2010, J Biomech 43:1220-3 (generalised sinusoid over the range).
 * Errors: RangeError for lists of different length or a number that is not finite. Limits: takes passive tension for
 * weight.
 *
 * @example fitPhaseShifted([0, 45, 90], [12, 7.0711, -2]) // { cosineNm: 12, sineNm: -2, amplitudeNm: 12.1655, phaseDeg: 9.4623, ... }
 */
export function fitPhaseShifted(
  limbAngleBelowHorizontalDeg: readonly number[],
  readingNm: readonly number[],
): { cosineNm: number; sineNm: number; amplitudeNm: number; phaseDeg: number; residualSdNm: number | null } | null {
  const n = limbAngleBelowHorizontalDeg.length
  if (n !== readingNm.length) throw new RangeError('as many readings as angles are needed')
  if (![...limbAngleBelowHorizontalDeg, ...readingNm].every(Number.isFinite)) {
    throw new RangeError('a weighing needs finite numbers')
  }
  if (n < 2) return null
  const cosine = limbAngleBelowHorizontalDeg.map((angle) => Math.cos(angle * RADIANS))
  const sine = limbAngleBelowHorizontalDeg.map((angle) => Math.sin(angle * RADIANS))
  const dot = (x: readonly number[], y: readonly number[]) => x.reduce((total, value, i) => total + value * y[i]!, 0)
  const cosineSquare = dot(cosine, cosine)
  if (!(cosineSquare > 1e-12)) return null
  const along = dot(cosine, sine) / cosineSquare
  const across = sine.map((value, i) => value - along * cosine[i]!)
  const acrossSquare = dot(across, across)
  if (acrossSquare < n * 0.0007) return null
  const sineNm = dot(across, readingNm) / acrossSquare
  const cosineNm = dot(cosine, readingNm) / cosineSquare - along * sineNm
  const squares = readingNm.reduce((total, reading, i) => {
    return total + (reading - cosineNm * cosine[i]! - sineNm * sine[i]!) ** 2
  }, 0)
  return {
    cosineNm,
    sineNm,
    amplitudeNm: Math.hypot(cosineNm, sineNm),
    phaseDeg: Math.atan2(-sineNm, cosineNm) / RADIANS,
    residualSdNm: n > 2 ? Math.sqrt(squares / (n - 2)) : null,
  }
}

/**
 * A passive sweep as a table over the joint angle: mean torque per whole degree, joined where the limb passed.
 *
 * Moved both ways and averaged, friction cancels. What for: where no cosine fits (prostheses, passive elastic moment).
 * `torqueNm` positive where the machine holds the limb UP; the table is positive in the first movement, hence the
 * orientation's sign. null where fewer than 5 degrees were covered, or a hole of more than 5 degrees is left.
 * Units: deg, N.m. Errors: RangeError for unequal lengths or numbers that are not finite. Source: Anderson et al.
 * 2010, J Biomech 43:1220-3 (why a single angle is not enough). Limits: a fast sweep has inertia in it.
 *
 * @example sweepTable([0, 0.4, 1, 2, 3, 4, 5], [12, 12, 12, 12, 12, 12, 12], seated)?.passiveTorqueNm[0] // -12
 */
export function sweepTable(
  angleDeg: readonly number[],
  torqueNm: readonly number[],
  orientation: LimbOrientation,
): { readonly angleDeg: number[]; readonly passiveTorqueNm: number[] } | null {
  if (angleDeg.length !== torqueNm.length) throw new RangeError('as many torques as angles are needed')
  const bins = new Map<number, { angle: number; torque: number; count: number }>()
  for (const [i, angle] of angleDeg.entries()) {
    const torque = torqueNm[i]!
    if (!Number.isFinite(angle) || !Number.isFinite(torque)) throw new RangeError('a sweep needs finite numbers')
    const bin = bins.get(Math.round(angle)) ?? { angle: 0, torque: 0, count: 0 }
    bins.set(Math.round(angle), { angle: bin.angle + angle, torque: bin.torque + torque, count: bin.count + 1 })
  }
  const rows = [...bins.values()]
    .map(({ angle, torque, count }) => ({ angle: angle / count, torque: torque / count }))
    .sort((a, b) => a.angle - b.angle)
  const angles = rows.map(({ angle }) => angle)
  if (angles.length < 2 || angles.at(-1)! - angles[0]! < 5) return null
  if (angles.some((angle, i) => i > 0 && angle - angles[i - 1]! > 5)) return null
  return { angleDeg: angles, passiveTorqueNm: rows.map(({ torque }) => -orientation.perJointDegree * torque) }
}

/**
 * The gravity model a limb weighing gives, or why it gives none, with what has to be said about it.
 *
 * Reasons: `weighed_before_last_adjustment` (void: seat, machine or attachment moved since), `weighed_too_near_vertical`,
 * `readings_do_not_settle_the_fit`, `sweep_too_short_or_broken`, `weighing_not_positive` (a limb that pushes the arm up).
 * Findings: `weighing_time_unknown`, and `weighed_near_level` within 15 deg of level.
 * What for: from what was read at the machine to the model the analysis takes. Units: N.m, deg. Errors: RangeError
 * for numbers that are not finite. Source: as `gravityMomentNm` and `fitPhaseShifted`; the 15 deg are an engineering
 * choice. Limits: cannot see a limb that was not relaxed; `weighingPlausibility` and `compareWeighings` can.
 *
 * @example weighLimb({ method: 'single_angle', limbAngleBelowHorizontalDeg: 35, torqueNm: 10.8, armTared: 'no', afterLastAdjustment: 'yes' }, seatedKnee).momentNm // 13.18...
 */
export function weighLimb(
  weighing: LimbWeighing,
  orientation: LimbOrientation,
): {
  readonly model: GravityModel | null
  /** Largest moment over the circle, or over the angles swept. */
  readonly momentNm: number | null
  readonly reason: ReasonCode | null
  readonly findings: readonly Finding[]
} {
  const none = (reason: ReasonCode) => ({ model: null, momentNm: null, reason, findings: [] })
  if (weighing.afterLastAdjustment === 'no') return none('weighed_before_last_adjustment')
  const findings: Finding[] = []
  if (weighing.afterLastAdjustment === 'unknown') {
    const detail = 'Whether the limb was weighed after the last adjustment is not known.'
    findings.push({ code: 'weighing_time_unknown', level: 'caution', detail })
  }
  switch (weighing.method) {
    case 'single_angle': {
      const momentNm = gravityMomentNm(weighing.torqueNm, weighing.limbAngleBelowHorizontalDeg)
      if (momentNm === null) return none('weighed_too_near_vertical')
      if (!(momentNm > 0)) return none('weighing_not_positive')
      if (Math.abs(weighing.limbAngleBelowHorizontalDeg) < 15) {
        const detail = 'Near level, passive tissue tension is weighed as limb; 30 to 45 deg is better.'
        findings.push({ code: 'weighed_near_level', level: 'note', detail })
      }
      return { model: { kind: 'cosine', momentNm, orientation }, momentNm, reason: null, findings }
    }
    case 'several_angles': {
      const fit = fitPhaseShifted(
        weighing.readings.map((reading) => reading.limbAngleBelowHorizontalDeg),
        weighing.readings.map((reading) => reading.torqueNm),
      )
      if (fit === null) return none('readings_do_not_settle_the_fit')
      if (!(fit.cosineNm > 0)) return none('weighing_not_positive')
      const { cosineNm, sineNm, amplitudeNm } = fit
      const model: GravityModel = { kind: 'phase_shifted', cosineNm, sineNm, orientation }
      return { model, momentNm: amplitudeNm, reason: null, findings }
    }
    case 'passive_sweep': {
      const table = sweepTable(weighing.angleDeg, weighing.torqueNm, orientation)
      if (table === null) return none('sweep_too_short_or_broken')
      if (!(mean(table.passiveTorqueNm) * -orientation.perJointDegree > 0)) return none('weighing_not_positive')
      const momentNm = table.passiveTorqueNm.reduce((most, torque) => Math.max(most, Math.abs(torque)), 0)
      return { model: { kind: 'passive_sweep', ...table }, momentNm, reason: null, findings }
    }
  }
}
