import { AppError } from '../../domain/errors.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import type { ReadinessAsk } from './assess-readiness.ts'
import { evaluateEpisode, loadRecords, setsForQuery, todayOf, type Readiness } from './evaluate-episode.ts'
import { nameRecord, nameSet } from './name-evidence.ts'

/**
 * Several episodes over one reading. An episode for which no criteria set is named, or none that is known, is answered by the
 * refusal that it would get alone: the others are not refused for it.
 */
export async function assessReadinessOfEpisodes(
  ctx: Context,
  ask: Omit<ReadinessAsk, 'episodeId'> & { readonly episodeIds: readonly string[] },
): Promise<readonly (Readiness | AppError | null)[]> {
  const knownAt = ask.asKnownAt ?? ctx.now
  const on = ask.on ?? todayOf(ctx)
  const found = await perform(ctx, 'readiness.read', async (tx, trace) => {
    const records = await loadRecords(tx, distinctIds(ask.episodeIds), knownAt)
    const asked = records.map((record) => ({ record, wanted: ask.criteriaSet }))
    const sets = await setsForQuery(tx, asked)
    const known = new Map(
      records.flatMap((record, index) => {
        const set = sets[index]
        return record.episode === null || set === undefined ? [] : [[record.episode.id, { record, set }] as const]
      }),
    )
    const inOrderAsked = inOrder(trace, ask.episodeIds, known)
    records.forEach((record) => nameRecord(trace, record))
    const named = sets.flatMap((set) => (set instanceof AppError ? [] : set))
    named.forEach((set) => nameSet(trace, set))
    if (named.length < sets.length) trace.detail('withoutCriteriaSet', sets.length - named.length)
    return inOrderAsked
  })
  return found.map((one) => {
    if (one === null) return null
    const { record, set } = one
    return set instanceof AppError ? set : evaluateEpisode(record, set, on, knownAt).readiness
  })
}
