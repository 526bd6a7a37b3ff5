import type { EpisodeDocument } from '../../domain/episode-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { lockEpisode, reviseEpisode } from '../../store/episode-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { requireVersion } from '../shared/versions.ts'
import { asRow, episodeWrite } from './episode-write.ts'
import { representEpisode, type EpisodeRepresentation } from './represent-episode.ts'

/** A new version; earlier ones stay readable and are what an evaluation "as known at" then goes by. */
export async function editEpisode(
  ctx: Context,
  input: { episodeId: string; ifMatch: string | undefined; document: LazyDocument<EpisodeDocument> },
): Promise<EpisodeRepresentation> {
  return perform(ctx, 'episodes.edit', async (tx, trace) => {
    const current = orNotFound(await lockEpisode(tx, input.episodeId))
    trace.subject(current.subjectId)
    trace.resource('episode', input.episodeId)
    requireVersion(input.ifMatch, current.version)
    const place = { episodeId: input.episodeId, version: current.version + 1 }
    const write = await episodeWrite(tx, ctx, place, input.document())
    const sameId = (write.externalId?.system ?? null) === current.extSystem && (write.externalId?.value ?? null) === current.extValue // prettier-ignore
    if (write.subjectId !== current.subjectId || !sameId) {
      throw new AppError('invalid_document', {
        detail: 'An episode keeps its subject and its external id.',
        faults: [{ pointer: sameId ? '#/subject' : '#/externalId', code: 'not_editable', message: 'This cannot be changed.' }], // prettier-ignore
      })
    }
    await reviseEpisode(tx, write)
    return representEpisode(asRow(write))
  })
}
