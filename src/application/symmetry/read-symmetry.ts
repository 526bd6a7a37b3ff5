import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'
import type { Symmetry, SymmetryAsk } from './describe-symmetry.ts'
import { readSymmetries } from './read-symmetries.ts'

export async function readSymmetry(ctx: Context, { subjectId, ...ask }: SymmetryAsk): Promise<Symmetry> {
  const [symmetry] = await readSymmetries(ctx, { ...ask, subjectIds: [subjectId] })
  return orNotFound(symmetry)
}
