import type { Context } from '../context.ts'
import { listEpisodesOfSubjects } from './list-episodes-of-subjects.ts'
import type { EpisodeRepresentation } from './represent-episode.ts'

export async function listEpisodes(
  ctx: Context,
  input: { subjectId: string },
): Promise<{ items: readonly EpisodeRepresentation[] }> {
  const [items = []] = await listEpisodesOfSubjects(ctx, { subjectIds: [input.subjectId] })
  return { items }
}
