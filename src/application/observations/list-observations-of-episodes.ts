import { loadEpisodes } from '../../store/episode-store.ts'
import { loadObservationHistory } from '../../store/observation-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { representObservation, type ObservationRepresentation } from './represent-observation.ts'

/** Newest day first; what was superseded stays readable and says so. Of an episode that is not found: none. */
export async function listObservationsOfEpisodes(
  ctx: Context,
  input: { episodeIds: readonly string[] },
): Promise<readonly (readonly ObservationRepresentation[])[]> {
  return perform(ctx, 'observations.list', async (tx, trace) => {
    const ids = distinctIds(input.episodeIds)
    const episodes = await loadEpisodes(tx, ids, ctx.now)
    for (const { id, subjectId } of episodes) {
      trace.subject(subjectId)
      trace.resource('episode', id)
    }
    const rows = Map.groupBy(await loadObservationHistory(tx, ids), (row) => row.episodeId)
    const lists = new Map(episodes.map(({ id }) => [id, (rows.get(id) ?? []).map(representObservation)]))
    return inOrder(trace, input.episodeIds, lists).map((list) => list ?? [])
  })
}
