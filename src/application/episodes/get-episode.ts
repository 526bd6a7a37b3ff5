import { loadEpisode } from '../../store/episode-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representEpisode, type EpisodeRepresentation } from './represent-episode.ts'

export async function getEpisode(ctx: Context, input: { episodeId: string }): Promise<EpisodeRepresentation> {
  return perform(ctx, 'episodes.read', async (tx, trace) => {
    const row = orNotFound(await loadEpisode(tx, input.episodeId, ctx.now))
    trace.subject(row.subjectId)
    trace.resource('episode', row.id)
    return representEpisode(row)
  })
}
