import { loadEpisodeVersions } from '../../store/episode-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representEpisode } from './represent-episode.ts'

/** Who said what, and when: oldest first. */
export async function listEpisodeVersions(ctx: Context, input: { episodeId: string }) {
  return perform(ctx, 'episodes.read', async (tx, trace) => {
    const rows = await loadEpisodeVersions(tx, input.episodeId)
    trace.subject(orNotFound(rows[0]).subjectId)
    trace.resource('episode', input.episodeId)
    const items = rows.map((row) => ({
      ...representEpisode(row),
      recordedBy: row.recordedBy,
      supersededAt: row.supersededAt?.toISOString() ?? null,
    }))
    return { items }
  })
}
