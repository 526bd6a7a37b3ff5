import type { Joint, Measured, Movement, ReasonCode, RepetitionMeasure, RepetitionResult } from '../types.ts'

/** Do not depend on the torque's level. A constant offset leaves the rate of development alone. */
const WITHOUT_LEVEL: ReadonlySet<RepetitionMeasure> = new Set([
  'rangeOfMotion',
  'loadRange',
  'loadRangeDuration',
  'rateOfTorqueDevelopment',
])

/** Of the movement that works against gravity: lowered by it at worst, so shown with caution. */
const WITH_CAUTION: ReadonlySet<RepetitionMeasure> = new Set([
  'peakTorque',
  'peakTorquePerBodyMass',
  'angleOfPeakTorque',
  'timeToPeakTorque',
  'isometricPlateauTorque',
])

/**
 * Whether a measure can be assessed when nobody knows if gravity was corrected.
 *
 * Knee extension: peak torque and what hangs on it, with caution. Knee flexion, and work everywhere: no; uncorrected work
 * is off by 26 to 43 % in extension and 55 to 510 % in flexion (Winter, Wells & Orr 1981, Eur J Appl Physiol 46:397-408).
 * Other joints: which movement gravity helps depends on the position, so neither.
 * What for: old recordings that do not say what was done to them. Units: none. Errors: none. Limits: with caution
 * still means that the value is too low by an unknown amount, never that it is right.
 * Source: engineering choice after Winter, Wells & Orr 1981, Eur J Appl Physiol 46:397-408.
 *
 * @example assessableWithGravityUnknown('peakTorque', 'knee', 'flexion') // 'no'
 */
export function assessableWithGravityUnknown(
  measure: RepetitionMeasure,
  joint: Joint,
  movement: Movement,
): 'yes' | 'with_caution' | 'no' {
  if (WITHOUT_LEVEL.has(measure)) return 'yes'
  if (joint === 'knee' && movement === 'extension' && WITH_CAUTION.has(measure)) return 'with_caution'
  return 'no'
}

/** A repetition with what can't be assessed taken out, for the reason `gravity_correction_unknown`. */
export function withholdWhereGravityUnknown(
  repetition: RepetitionResult,
  joint: Joint,
  movement: Movement,
): RepetitionResult {
  const reason: ReasonCode = 'gravity_correction_unknown'
  const withheld = (value: Measured): Measured => (value.value === null ? value : { value: null, reason })
  const measures = Object.fromEntries(
    Object.entries(repetition.measures).map(([name, value]) => {
      const assessable = assessableWithGravityUnknown(name as RepetitionMeasure, joint, movement)
      return [name, assessable === 'no' ? withheld(value) : value]
    }),
  ) as RepetitionResult['measures']
  return {
    ...repetition,
    measures,
    torqueAtAngle: repetition.torqueAtAngle.map((row) => ({ ...row, torque: withheld(row.torque) })),
  }
}
