import { loadEpisodes } from '../../store/episode-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { representEpisode, type EpisodeRepresentation } from './represent-episode.ts'

export async function getEpisodes(
  ctx: Context,
  input: { episodeIds: readonly string[] },
): Promise<readonly (EpisodeRepresentation | null)[]> {
  return perform(ctx, 'episodes.read', async (tx, trace) => {
    const rows = await loadEpisodes(tx, distinctIds(input.episodeIds), ctx.now)
    for (const row of rows) {
      trace.subject(row.subjectId)
      trace.resource('episode', row.id)
    }
    return inOrder(trace, input.episodeIds, new Map(rows.map((row) => [row.id, representEpisode(row)])))
  })
}
