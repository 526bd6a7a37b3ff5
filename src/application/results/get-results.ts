import { loadFlags } from '../../store/flag-store.ts'
import { loadProvenances, loadResultsById } from '../../store/result-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { representResultDetail, type ResultDetail } from './represent-result-detail.ts'

/** Numbers with all that made them; one that an amendment replaced stays readable, as superseded. */
export async function getResults(
  ctx: Context,
  input: { resultIds: readonly string[] },
): Promise<readonly (ResultDetail | null)[]> {
  return perform(ctx, 'results.read', async (tx, trace) => {
    const rows = await loadResultsById(tx, distinctIds(input.resultIds))
    const provenances = await loadProvenances(tx, rows.map(({ analysisId }) => analysisId)) // prettier-ignore
    const flags = await loadFlags(
      tx,
      { sessionId: { in: [...new Set(rows.map(({ sessionId }) => sessionId))] } },
      ctx.now,
    )
    const details = new Map<string, ResultDetail>()
    for (const row of rows) {
      const provenance = provenances.find(({ analysisId }) => analysisId === row.analysisId)
      if (provenance === undefined) continue
      trace.subject(row.subjectId)
      trace.resource('result', row.id)
      details.set(row.id, representResultDetail(row, provenance, flags, ctx.now))
    }
    return inOrder(trace, input.resultIds, details)
  })
}
