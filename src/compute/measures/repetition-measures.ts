import type { Measured, ReasonCode, RepetitionMeasure } from '../types.ts'

export const REPETITION_MEASURES: readonly RepetitionMeasure[] = [
  'peakTorque',
  'angleOfPeakTorque',
  'workPerRepetition',
  'averagePower',
  'peakPower',
  'timeToPeakTorque',
  'rateOfTorqueDevelopment',
  'impulse',
  'rangeOfMotion',
  'loadRange',
  'loadRangeDuration',
  'peakTorquePerBodyMass',
  'workPerBodyMass',
  'averagePowerPerBodyMass',
  'isometricPlateauTorque',
]

export type RepetitionMeasures = Record<RepetitionMeasure, Measured>

/** Every measure missing for the same reason. */
export function allMissing(reason: ReasonCode): RepetitionMeasures {
  const entries = REPETITION_MEASURES.map((name) => [name, { value: null, reason }] as const)
  return Object.fromEntries(entries) as RepetitionMeasures
}

/** A number as a measure; null, or anything not finite, is missing for the reason. NaN never leaves. */
export function measured(value: number | null, reason: ReasonCode): Measured {
  return value !== null && Number.isFinite(value) ? { value } : { value: null, reason }
}
