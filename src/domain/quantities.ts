/**
 * The zod shape of a measured number, `{ "value": 182.4, "unit": "N.m" }`: the unit is mandatory, spelt as in UCUM and of the
 * kind that belongs here. What was sent is kept beside its canonical form (SI, degrees), which is what is computed with.
 */
import { z } from 'zod'
import {
  acceptedUnitsOf,
  canonicalUnitOf,
  convert,
  QUANTITY_KINDS,
  suggestUnit,
  unitKind,
} from '../compute/units/index.ts'
import type { QuantityKind } from '../compute/units/index.ts'
import type { FieldFault } from './errors.ts'
import { fail } from './faults.ts'

export type { QuantityKind }

export interface Quantity {
  readonly value: number
  readonly unit: string
  readonly canonicalValue: number
  readonly canonicalUnit: string
}

/** Inclusive, in the canonical unit of the kind. */
export interface Bounds {
  readonly min?: number
  readonly max?: number
}

/** A quantity of one kind. The faults of unit and value are independent: both are reported. */
export function quantity(
  kind: QuantityKind,
  bounds: Bounds = {},
): z.ZodType<Quantity, { value: number; unit: string }> {
  return z.strictObject({ value: z.number(), unit: unitText(kind) }).transform((sent, context): Quantity => {
    const canonicalUnit = canonicalUnitOf(kind)
    const canonicalValue = convertOrNull(sent.value, sent.unit, canonicalUnit)
    if (canonicalValue === null || !isWithin(canonicalValue, bounds)) {
      fail(context, ['value'], 'out_of_range', describeBounds(bounds, canonicalUnit))
      return z.NEVER
    }
    return { ...sent, canonicalValue, canonicalUnit }
  })
}

/** A quantity whose kind the dynamometer's description decides, not the shape of the document. */
export function quantityOfAnyKind(): z.ZodType<Quantity, { value: number; unit: string }> {
  return z.strictObject({ value: z.number(), unit: unitText(null) }).transform((sent, context): Quantity => {
    const kind = unitKind(sent.unit)
    const canonicalUnit = kind === null ? null : canonicalUnitOf(kind)
    const canonicalValue = canonicalUnit === null ? null : convertOrNull(sent.value, sent.unit, canonicalUnit)
    if (canonicalUnit === null || canonicalValue === null) {
      fail(context, ['value'], 'out_of_range', 'The number is out of range.')
      return z.NEVER
    }
    return { ...sent, canonicalValue, canonicalUnit }
  })
}

/** A measured value shown in another unit of its kind, by exact factors; one without a value stays without. */
export function inUnit<T extends { readonly value: number | null; readonly unit: string }>(
  measured: T,
  unit: string,
): T | { readonly fault: Omit<FieldFault, 'pointer'> } {
  const kind = unitKind(measured.unit)
  if (kind === null && unit !== measured.unit) {
    return { fault: { code: 'unit_wrong_kind', message: `What is in ${measured.unit} is shown in no other unit.` } }
  }
  const fault = kind === null ? null : unitFault(unit, kind)
  if (fault !== null) return { fault }
  if (unit === measured.unit) return measured
  return { ...measured, value: measured.value === null ? null : convert(measured.value, measured.unit, unit), unit }
}

/** The canonical value of an unchecked `{value, unit}`, or null where it is not a quantity of this kind. */
export function canonicalValueOf(sent: unknown, kind: QuantityKind): number | null {
  if (typeof sent !== 'object' || sent === null) return null
  const { value, unit } = sent as { value?: unknown; unit?: unknown }
  if (typeof value !== 'number' || typeof unit !== 'string' || unitKind(unit) !== kind) return null
  return convertOrNull(value, unit, canonicalUnitOf(kind))
}

/** The text of a unit of one kind (null: of any kind). */
export function unitText(kind: QuantityKind | null): z.ZodType<string, string> {
  const accepted = kind === null ? QUANTITY_KINDS.flatMap((each) => acceptedUnitsOf(each)) : acceptedUnitsOf(kind)
  return z
    .string()
    .superRefine((unit, context) => {
      const fault = unitFault(unit, kind)
      if (fault !== null) context.addIssue({ code: 'custom', message: fault.message, params: { fault } })
    })
    .meta({ enum: accepted })
}

/** What is wrong with a unit, or null. */
export function unitFault(unit: string, kind: QuantityKind | null): Omit<FieldFault, 'pointer'> | null {
  const found = unitKind(unit)
  if (found !== null && (kind === null || found === kind)) return null
  const received = unit.slice(0, 40)
  const accepted = kind === null ? {} : { accepted: acceptedUnitsOf(kind) }
  if (kind !== null && isPerBodyMass(kind) && unit.includes('%')) {
    const message = `A percentage of body weight means two different things. Write "${canonicalUnitOf(kind)}".`
    return { code: 'unit_bare_percent_refused', message, received, ...accepted }
  }
  if (found !== null && kind !== null) {
    const message = `"${received}" is a unit of ${words(found)}; a unit of ${words(kind)} belongs here.`
    return { code: 'unit_wrong_kind', message, received, ...accepted }
  }
  const suggestion = suggestUnit(unit, kind ?? undefined)
  if (suggestion === null) {
    return { code: 'unit_not_ucum', message: `"${received}" is not a UCUM unit accepted here.`, received, ...accepted }
  }
  const message = `"${received}" is not a UCUM unit. Write "${suggestion}".`
  return { code: 'unit_not_ucum', message, received, suggestion, ...accepted }
}

function isPerBodyMass(kind: QuantityKind): boolean {
  return kind === 'torque_per_body_mass' || kind === 'energy_per_body_mass' || kind === 'power_per_body_mass'
}

function words(kind: QuantityKind): string {
  return kind.replaceAll('_', ' ')
}

function convertOrNull(value: number, from: string, to: string): number | null {
  try {
    return convert(value, from, to)
  } catch (error) {
    // The unit has been checked, so this is a number too large for the canonical unit
    if (error instanceof RangeError) return null
    throw error
  }
}

function isWithin(value: number, { min, max }: Bounds): boolean {
  return (min === undefined || value >= min) && (max === undefined || value <= max)
}

function describeBounds({ min, max }: Bounds, unit: string): string {
  if (min !== undefined && max !== undefined) return `The value must lie between ${min} and ${max} ${unit}.`
  if (min !== undefined) return `The value must be ${min} ${unit} or more.`
  if (max !== undefined) return `The value must be ${max} ${unit} or less.`
  return 'The number is out of range.'
}
