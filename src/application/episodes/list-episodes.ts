import { loadEpisodesOfSubject } from '../../store/episode-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representEpisode, type EpisodeRepresentation } from './represent-episode.ts'

/** A subject has a handful of episodes: no pages. */
export async function listEpisodes(
  ctx: Context,
  input: { subjectId: string },
): Promise<{ items: EpisodeRepresentation[] }> {
  return perform(ctx, 'episodes.list', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    const rows = await loadEpisodesOfSubject(tx, input.subjectId, ctx.now)
    return { items: rows.map(representEpisode) }
  })
}
