/**
 * The units the service accepts, each with its quantity kind and its exact size.
 *
 * Why a kind beside the dimension: newton metre and joule have the same dimension, as have a score, a ratio and a count.
 * A library that checks dimensions alone turns torque into work, so conversion here asks for the same KIND.
 *
 * Each size is a fraction of two numbers that binary64 holds exactly (except where pi is part of the definition), so that
 * 42 cm becomes 0.42 m and not 0.42000000000000004.
 *
 * Sources: the Unified Code for Units of Measure (UCUM) 2.1; international foot and avoirdupois pound (1959 agreement:
 * 0.3048 m, 0.45359237 kg) and standard gravity 9.80665 m/s2 (CGPM 1901). UCUM's month is 1/12 of the Julian year (30.4375 d).
 */

/** What is measured. Two units convert into each other only inside one kind. */
export type QuantityKind =
  | 'torque'
  | 'torque_per_body_mass'
  | 'energy'
  | 'energy_per_body_mass'
  | 'power'
  | 'power_per_body_mass'
  | 'force'
  | 'rate_of_torque_development'
  | 'angular_impulse'
  | 'angle'
  | 'angular_velocity'
  | 'angular_acceleration'
  | 'moment_of_inertia'
  | 'mass'
  | 'length'
  | 'duration'
  | 'frequency'
  | 'pressure'
  | 'proportion'
  | 'score'
  | 'repetition_count'
  | 'torque_per_repetition'
  | 'energy_per_repetition'
  | 'torque_trend'
  | 'torque_per_body_mass_trend'
  | 'energy_trend'
  | 'power_trend'
  | 'proportion_trend'

export interface UnitEntry {
  readonly unit: string
  readonly kind: QuantityKind
  /** Size in the canonical unit of the kind = numerator / denominator. */
  readonly numerator: number
  readonly denominator: number
}

const day = 86_400
const julianYear = 31_557_600
const month = 2_629_800

function unit(code: string, kind: QuantityKind, numerator = 1, denominator = 1): UnitEntry {
  return { unit: code, kind, numerator, denominator }
}

/** Every accepted unit; the first of each kind is the canonical one, the one stored. */
export const UNIT_TABLE: readonly UnitEntry[] = [
  unit('N.m', 'torque'),
  unit('N.cm', 'torque', 1, 100),
  unit('kgf.m', 'torque', 980_665, 100_000),
  // 0.3048 x 4.4482216152605 = 1.3558179483314004, written so that both numbers stay below 2^53
  unit('[ft_i].[lbf_av]', 'torque', 3_389_544_870_828_501, 2_500_000_000_000_000),
  unit('[in_i].[lbf_av]', 'torque', 1_129_848_290_276_167, 1e16),

  unit('N.m/kg', 'torque_per_body_mass'),
  unit('[ft_i].[lbf_av]/[lb_av]', 'torque_per_body_mass', 298_906_692, 100_000_000),

  unit('J', 'energy'),
  unit('kJ', 'energy', 1000),
  unit('J/kg', 'energy_per_body_mass'),
  unit('W', 'power'),
  unit('W/kg', 'power_per_body_mass'),

  unit('N', 'force'),
  unit('kgf', 'force', 980_665, 100_000),
  unit('[lbf_av]', 'force', 44_482_216_152_605, 1e13),

  unit('N.m/s', 'rate_of_torque_development'),
  unit('N.m.s', 'angular_impulse'),

  unit('deg', 'angle'),
  unit('rad', 'angle', 180, Math.PI),
  unit('deg/s', 'angular_velocity'),
  unit('rad/s', 'angular_velocity', 180, Math.PI),
  unit('deg/s2', 'angular_acceleration'),
  unit('rad/s2', 'angular_acceleration', 180, Math.PI),
  unit('kg.m2', 'moment_of_inertia'),

  unit('kg', 'mass'),
  unit('g', 'mass', 1, 1000),
  unit('[lb_av]', 'mass', 45_359_237, 100_000_000),

  unit('m', 'length'),
  unit('cm', 'length', 1, 100),
  unit('mm', 'length', 1, 1000),
  unit('[in_i]', 'length', 254, 10_000),
  unit('[ft_i]', 'length', 3048, 10_000),

  unit('s', 'duration'),
  unit('ms', 'duration', 1, 1000),
  unit('min', 'duration', 60),
  unit('h', 'duration', 3600),
  unit('d', 'duration', day),
  unit('wk', 'duration', 7 * day),
  unit('mo', 'duration', month),
  unit('a', 'duration', julianYear),

  unit('Hz', 'frequency'),
  unit('kHz', 'frequency', 1000),
  unit('/min', 'frequency', 1, 60),
  unit('mm[Hg]', 'pressure'),

  unit('%', 'proportion'),
  unit('{ratio}', 'proportion', 100),
  unit('1', 'proportion', 100),
  unit('{score}', 'score'),
  unit('{repetition}', 'repetition_count'),

  unit('N.m/{repetition}', 'torque_per_repetition'),
  unit('J/{repetition}', 'energy_per_repetition'),
  unit('N.m/mo', 'torque_trend'),
  unit('N.m/kg/mo', 'torque_per_body_mass_trend'),
  unit('J/mo', 'energy_trend'),
  unit('W/mo', 'power_trend'),
  unit('%/mo', 'proportion_trend'),
]
