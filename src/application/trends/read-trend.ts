import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'
import type { Trend, TrendAsk } from './describe-trend.ts'
import { readTrends } from './read-trends.ts'

export async function readTrend(ctx: Context, { subjectId, ...ask }: TrendAsk): Promise<Trend> {
  const [trend] = await readTrends(ctx, { ...ask, subjectIds: [subjectId] })
  return orNotFound(trend)
}
