/** Every quantity takes a unit: `peak(unit: "[ft_i].[lbf_av]") { value unit }`. Without one it is as REST shows it. */
import { GraphQLString, type GraphQLFieldConfigArgumentMap } from 'graphql'
import { documentError } from '../../domain/errors.ts'
import { inUnit } from '../../domain/quantities.ts'

export const unitArgument: GraphQLFieldConfigArgumentMap = {
  unit: { type: GraphQLString, description: 'UCUM unit of the same kind to show it in; as stored if absent' },
}

export interface UnitAsked {
  readonly unit?: string | null
}

export function inAskedUnit(measured: unknown, { unit }: UnitAsked): unknown {
  if (unit === undefined || unit === null || measured === null || measured === undefined) return measured
  const shown = inUnit(measured as { value: number | null; unit: string }, unit)
  if ('fault' in shown) throw documentError([{ pointer: '#/unit', ...shown.fault }])
  return shown
}
