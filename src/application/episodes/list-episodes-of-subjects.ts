import { loadEpisodesOfSubjects } from '../../store/episode-store.ts'
import { loadSubjects } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { representEpisode, type EpisodeRepresentation } from './represent-episode.ts'

/** A subject has a handful of episodes: no pages. Of a subject that is not found: none. */
export async function listEpisodesOfSubjects(
  ctx: Context,
  input: { subjectIds: readonly string[] },
): Promise<readonly (readonly EpisodeRepresentation[])[]> {
  return perform(ctx, 'episodes.list', async (tx, trace) => {
    const ids = distinctIds(input.subjectIds)
    const subjects = await loadSubjects(tx, ids, ctx.now)
    subjects.forEach(({ id }) => trace.subject(id))
    const rows = Map.groupBy(await loadEpisodesOfSubjects(tx, ids, ctx.now), (row) => row.subjectId)
    const lists = new Map(subjects.map(({ id }) => [id, (rows.get(id) ?? []).map(representEpisode)]))
    return inOrder(trace, input.subjectIds, lists).map((list) => list ?? [])
  })
}
