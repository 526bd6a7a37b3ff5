/** What trend and symmetry are judged by: one series of several subjects, read and written into the log at once. */
import { seriesKey, type Series } from '../../domain/series.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { inOrder } from '../shared/batch.ts'
import { loadHistories, type History } from './history.ts'

interface SeriesAsk {
  readonly subjectIds: readonly string[]
  readonly series: Series
  /** null: now. */
  readonly asKnownAt: Date | null
}

/** In the order asked; no history: no such subject. */
export async function readHistoriesOfSeries(
  ctx: Context,
  action: 'trends.read' | 'symmetry.read',
  ask: SeriesAsk,
): Promise<readonly { readonly subjectId: string; readonly history: History | null }[]> {
  const { subjectIds } = ask
  const { joint } = ask.series
  const series = seriesKey(ask.series)
  return perform(ctx, action, async (tx, trace) => {
    const asks = subjectIds.map((subjectId) => ({ subjectId, joint, episodeId: null }))
    const found = (await loadHistories(tx, asks, { knownAt: ask.asKnownAt ?? ctx.now, series })).filter(
      (h) => h !== null,
    )
    const histories = inOrder(trace, subjectIds, new Map(found.map((history) => [history.subject.id, history])))
    found.forEach(({ subject }) => trace.subject(subject.id))
    trace.detail('series', series)
    return subjectIds.map((subjectId, index) => ({ subjectId, history: histories[index] ?? null }))
  })
}
