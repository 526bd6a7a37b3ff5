import type { Measured } from '../types.ts'

/**
 * A value per kilogram of body mass (N.m/kg, J/kg, W/kg).
 *
 * Never as "% body weight": that means 100 N.m/kg in one place and 100 ft.lbf/lb (2.989 times as much) in another.
 * Reasons: `body_mass_missing`, or why the value itself is missing. Errors: RangeError for a mass that is not positive.
 * What for: comparing people. Source: common practice, no source. Limits: assumes that strength grows in proportion
 * to mass, which it does not quite. When not to use it: for change in one person whose mass moves.
 *
 * @example perBodyMass({ value: 225 }, 75) // { value: 3 }
 */
export function perBodyMass(measured: Measured, bodyMassKg: number | null): Measured {
  if (bodyMassKg !== null && !(bodyMassKg > 0 && bodyMassKg < Infinity)) {
    throw new RangeError('body mass must be positive')
  }
  if (measured.value === null) return measured
  return bodyMassKg === null ? { value: null, reason: 'body_mass_missing' } : { value: measured.value / bodyMassKg }
}
