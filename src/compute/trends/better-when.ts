import type { MeasureName } from '../types.ts'
import type { BetterWhen } from './types.ts'

const HIGHER: ReadonlySet<MeasureName | 'torqueAtAngle'> = new Set([
  'peakTorque',
  'torqueAtAngle',
  'workPerRepetition',
  'totalWork',
  'averagePower',
  'peakPower',
  'rateOfTorqueDevelopment',
  'impulse',
  'peakTorquePerBodyMass',
  'workPerBodyMass',
  'averagePowerPerBodyMass',
  'isometricPlateauTorque',
])

/**
 * Direction that a measure declares as better, or null where it declares none.
 *
 * What for: better or worse is said of strength, work and power only. An angle, a range, a time or a fatigue index moves for many
 * reasons (a stronger subject fatigues more), so its change has a direction and no meaning. Spread over repetitions (coefficient of
 * variation) has none either. Source: common practice, no source. Errors: none.
 * Units: none. Limits: the direction of the number, not a judgement of the person.
 * @example betterWhen('peakTorque', 'best') // 'higher'; betterWhen('angleOfPeakTorque', 'best') // null
 */
export function betterWhen(measure: MeasureName | 'torqueAtAngle', statistic: string): BetterWhen | null {
  return statistic !== 'coefficientOfVariation' && HIGHER.has(measure) ? 'higher' : null
}
