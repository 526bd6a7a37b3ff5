import type { Context } from '../context.ts'
import { readHistoriesOfSeries } from '../judgement/histories-of-series.ts'
import { describeTrend, type Trend, type TrendAsk } from './describe-trend.ts'

/** The same limb and series of several subjects. */
export async function readTrends(
  ctx: Context,
  { subjectIds, ...ask }: Omit<TrendAsk, 'subjectId'> & { readonly subjectIds: readonly string[] },
): Promise<readonly (Trend | null)[]> {
  const histories = await readHistoriesOfSeries(ctx, 'trends.read', { ...ask, subjectIds })
  return histories.map(({ subjectId, history }) => history && describeTrend(history, { ...ask, subjectId }))
}
