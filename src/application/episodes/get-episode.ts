import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'
import { getEpisodes } from './get-episodes.ts'
import type { EpisodeRepresentation } from './represent-episode.ts'

export async function getEpisode(ctx: Context, input: { episodeId: string }): Promise<EpisodeRepresentation> {
  const [episode] = await getEpisodes(ctx, { episodeIds: [input.episodeId] })
  return orNotFound(episode)
}
