import { acceptedUnitsOf, convert, unitKind } from '../../compute/units/index.ts'
import type { UnitConversionQuestion } from '../../domain/calculation-documents.ts'
import { documentError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { unitFault } from '../../domain/quantities.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'

/** One quantity in another unit of its kind, by exact factors. */
export async function convertUnit(ctx: Context, input: { document: LazyDocument<UnitConversionQuestion> }) {
  return perform(ctx, 'calculations.run', (_tx, trace) => {
    trace.detail('calculation', 'unit-conversion')
    const { quantity, to } = input.document().value
    const kind = unitKind(quantity.unit)
    const fault = kind === null ? null : unitFault(to, kind)
    if (fault !== null) throw documentError([{ pointer: '#/to', ...fault }])
    const { value, unit } = quantity
    return Promise.resolve({
      from: { value, unit },
      to: { value: convert(value, unit, to), unit: to },
      kind: kind ?? '',
      accepted: kind === null ? [] : [...acceptedUnitsOf(kind)],
    })
  })
}
