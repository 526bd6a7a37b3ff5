import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'
import { getResults } from './get-results.ts'
import type { ResultDetail } from './represent-result-detail.ts'

export async function getResult(ctx: Context, input: { resultId: string }): Promise<ResultDetail> {
  const [result] = await getResults(ctx, { resultIds: [input.resultId] })
  return orNotFound(result)
}
