import { loadFlags } from '../../store/flag-store.ts'
import { loadProvenance, loadResult } from '../../store/result-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representResultDetail, type ResultDetail } from './represent-result-detail.ts'

/** A number with all that made it; one that an amendment replaced stays readable, as superseded. */
export async function getResult(ctx: Context, input: { resultId: string }): Promise<ResultDetail> {
  return perform(ctx, 'results.read', async (tx, trace) => {
    const row = orNotFound(await loadResult(tx, input.resultId))
    trace.subject(row.subjectId)
    trace.resource('result', row.id)
    const provenance = orNotFound(await loadProvenance(tx, row))
    const flags = await loadFlags(tx, { sessionId: row.sessionId }, ctx.now)
    return representResultDetail(row, provenance, flags, ctx.now)
  })
}
