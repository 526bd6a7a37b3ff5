import { loadEpisodes } from '../../store/episode-store.ts'
import { loadReportsOfEpisodes } from '../../store/report-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import type { ReportSummary } from './represent-report.ts'
import { summariseReports } from './summarise-reports.ts'

/** Every version of every report, newest first. Of an episode that is not found: none. */
export async function listReportsOfEpisodes(
  ctx: Context,
  input: { episodeIds: readonly string[] },
): Promise<readonly (readonly ReportSummary[])[]> {
  return perform(ctx, 'reports.list', async (tx, trace) => {
    const ids = distinctIds(input.episodeIds)
    const episodes = await loadEpisodes(tx, ids, ctx.now)
    for (const { id, subjectId } of episodes) {
      trace.subject(subjectId)
      trace.resource('episode', id)
    }
    const reports = await summariseReports(tx, ctx, await loadReportsOfEpisodes(tx, ids))
    const lists = Map.groupBy(reports, ({ episodeId }) => episodeId)
    const found = new Map(episodes.map(({ id }) => [id, lists.get(id) ?? []]))
    return inOrder(trace, input.episodeIds, found).map((list) => list ?? [])
  })
}
