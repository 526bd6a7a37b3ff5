import { loadEpisode } from '../../store/episode-store.ts'
import { loadObservationHistory } from '../../store/observation-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representObservation, type ObservationRepresentation } from './represent-observation.ts'

/** Newest day first; what was superseded stays readable and says so. */
export async function listObservations(
  ctx: Context,
  input: { episodeId: string },
): Promise<{ items: ObservationRepresentation[] }> {
  return perform(ctx, 'observations.list', async (tx, trace) => {
    const episode = orNotFound(await loadEpisode(tx, input.episodeId, ctx.now))
    trace.subject(episode.subjectId)
    trace.resource('episode', input.episodeId)
    return { items: (await loadObservationHistory(tx, input.episodeId)).map(representObservation) }
  })
}
