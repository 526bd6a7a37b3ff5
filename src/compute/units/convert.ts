import { UNIT_TABLE } from './unit-table.ts'
import type { QuantityKind, UnitEntry } from './unit-table.ts'

const byCode = new Map<string, UnitEntry>(UNIT_TABLE.map((entry) => [entry.unit, entry]))
const canonicalByKind = new Map<QuantityKind, UnitEntry>()
for (const entry of UNIT_TABLE) if (!canonicalByKind.has(entry.kind)) canonicalByKind.set(entry.kind, entry)

/** Every quantity kind, in the order of the table. */
export const QUANTITY_KINDS: readonly QuantityKind[] = [...canonicalByKind.keys()]

/**
 * Quantity kind of a unit: what an accepted UCUM code measures, or null for a text that is not an accepted unit.
 *
 * Spelling is exact and case matters, as in UCUM ("Nm" is no unit, "N.m" is).
 * What for: to refuse a unit before converting. Errors: none. Source: UCUM 2.1. Limits: accepted units only, not all
 * of UCUM.
 *
 * @example unitKind('N.m') // 'torque'
 * @example unitKind('J')   // 'energy'
 * @example unitKind('Nm')  // null
 */
export function unitKind(unit: string): QuantityKind | null {
  return byCode.get(unit)?.kind ?? null
}

/**
 * Canonical unit of a quantity kind: the one every value of that kind is stored in (SI, degrees for angles, % for proportions).
 *
 * What for: the unit a value is stored in. Errors: RangeError for an unknown kind. Source: SI, with degrees for
 * angles. Limits: a kind has one canonical unit for ever; changing it would reinterpret what is stored.
 *
 * @example canonicalUnitOf('torque') // 'N.m'
 * @example canonicalUnitOf('angle')  // 'deg'
 */
export function canonicalUnitOf(kind: QuantityKind): string {
  const entry = canonicalByKind.get(kind)
  if (entry === undefined) throw new RangeError(`unknown quantity kind "${String(kind)}"`)
  return entry.unit
}

/**
 * Accepted units of a quantity kind, canonical one first: what a refusal lists under "accepted".
 *
 * What for: messages that say what may be sent. Errors: none; an unknown kind has none. Source: UNIT_TABLE. Limits: a
 * copy, not the table.
 *
 * @example acceptedUnitsOf('angle') // ['deg', 'rad']
 */
export function acceptedUnitsOf(kind: QuantityKind): readonly string[] {
  return UNIT_TABLE.filter((entry) => entry.kind === kind).map((entry) => entry.unit)
}

/**
 * Unit conversion: the same quantity written in another unit of the SAME quantity kind.
 *
 * Formula: value x (size of `from`) / (size of `to`), sizes being exact fractions (see unit-table.ts).
 * Converting to the same unit returns the value itself, bit for bit.
 *
 * Errors: RangeError when a unit is not accepted, when the kinds differ (torque never becomes energy, a score never becomes a
 * ratio), when the value is not finite, or when the result does not fit a binary64 number. Check documents with `unitKind`
 * first: a wrong unit in a document is data, not a caller's mistake.
 *
 * Accuracy: within 4 units in the last place of the exact result, also at the ends of the number range. Source: UCUM 2.1.
 * Limits: `mo` and `a` are UCUM's mean month (30.4375 d) and Julian year (365.25 d), not calendar ones: do not use them to
 * compute an anniversary. Work in foot-pounds is not accepted, because its UCUM code is that of torque.
 * What for: values of other systems, once, at the door.
 *
 * @example convert(182.4, '[ft_i].[lbf_av]', 'N.m') // 247.30119377564744
 * @example convert(42, 'cm', 'm')                   // 0.42
 */
export function convert(value: number, from: string, to: string): number {
  if (!Number.isFinite(value)) throw new RangeError(`a value to convert must be a finite number, got ${value}`)
  const source = entryOf(from)
  const target = entryOf(to)
  if (source.kind !== target.kind) {
    throw new RangeError(`"${from}" is a unit of ${source.kind} and "${to}" of ${target.kind}: they do not convert`)
  }
  if (source === target) return value
  const numerator = source.numerator * target.denominator
  const denominator = source.denominator * target.numerator
  const multiplied = value * numerator
  // Multiplying first rounds once less; near the end of the number range divide first, so that nothing overflows on the way
  const result = Math.abs(multiplied) < 1e300 ? multiplied / denominator : value * (numerator / denominator)
  if (!Number.isFinite(result)) throw new RangeError(`${value} ${from} in ${to} exceeds the range of numbers`)
  return result
}

/**
 * Conversion to the canonical unit: the form in which a value is stored and computed with.
 *
 * What for: one unit per kind inside. Errors: RangeError as `convert`. Source: UCUM 2.1. Limits: what was sent has to
 * be kept beside it by the caller.
 *
 * @example toCanonical(150, 'mm') // { value: 0.15, unit: 'm' }
 */
export function toCanonical(value: number, unit: string): { readonly value: number; readonly unit: string } {
  const canonical = canonicalUnitOf(entryOf(unit).kind)
  return { value: convert(value, unit, canonical), unit: canonical }
}

function entryOf(unit: string): UnitEntry {
  const entry = byCode.get(unit)
  if (entry === undefined) throw new RangeError(`"${unit}" is not an accepted UCUM unit`)
  return entry
}
