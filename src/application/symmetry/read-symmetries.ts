import type { Context } from '../context.ts'
import { readHistoriesOfSeries } from '../judgement/histories-of-series.ts'
import { describeSymmetry, type Symmetry, type SymmetryAsk } from './describe-symmetry.ts'

/** The same series of several subjects. */
export async function readSymmetries(
  ctx: Context,
  { subjectIds, ...ask }: Omit<SymmetryAsk, 'subjectId'> & { readonly subjectIds: readonly string[] },
): Promise<readonly (Symmetry | null)[]> {
  const histories = await readHistoriesOfSeries(ctx, 'symmetry.read', { ...ask, subjectIds })
  return histories.map(({ subjectId, history }) => history && describeSymmetry(history, { ...ask, subjectId }))
}
