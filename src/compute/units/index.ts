export { UNIT_TABLE } from './unit-table.ts'
export type { QuantityKind, UnitEntry } from './unit-table.ts'
export { QUANTITY_KINDS, acceptedUnitsOf, canonicalUnitOf, convert, toCanonical, unitKind } from './convert.ts'
export { suggestUnit } from './suggest-unit.ts'
