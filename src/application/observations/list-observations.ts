import type { Context } from '../context.ts'
import { listObservationsOfEpisodes } from './list-observations-of-episodes.ts'
import type { ObservationRepresentation } from './represent-observation.ts'

export async function listObservations(
  ctx: Context,
  input: { episodeId: string },
): Promise<{ items: readonly ObservationRepresentation[] }> {
  const [items = []] = await listObservationsOfEpisodes(ctx, { episodeIds: [input.episodeId] })
  return { items }
}
