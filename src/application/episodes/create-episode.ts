import { v7 as uuidv7 } from 'uuid'
import type { EpisodeDocument } from '../../domain/episode-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { findEpisodeByExternalId, insertEpisode, loadEpisode } from '../../store/episode-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { differingPointers } from '../shared/differences.ts'
import { docHashOf, sameHash } from '../shared/doc-hash.ts'
import { orNotFound } from '../shared/existing.ts'
import { etagOf } from '../shared/versions.ts'
import { asRow, episodeWrite } from './episode-write.ts'
import { representEpisode } from './represent-episode.ts'

/** Idempotent twice over: by key, and for ever by external id. The same content again answers the episode as it is now. */
export async function createEpisode(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<EpisodeDocument> },
): Promise<Created> {
  return createOnce(ctx, 'episodes.create', input.once, async (tx, trace) => {
    const document = input.document()
    const { externalId } = document.value
    const taken = externalId === undefined ? null : await findEpisodeByExternalId(tx, externalId)
    if (taken !== null) {
      const row = orNotFound(await loadEpisode(tx, taken.id, ctx.now))
      trace.subject(row.subjectId)
      if (!sameHash(taken.docHash, docHashOf(document.sent))) {
        throw new AppError('external_id_conflict', { extra: { id: taken.id, differs: differingPointers(row.document, document.sent) } }) // prettier-ignore
      }
      return { status: 200, headers: located(row.id, row.version), body: representEpisode(row) }
    }
    const write = await episodeWrite(tx, ctx, { episodeId: uuidv7({ msecs: ctx.now.getTime() }), version: 1 }, document)
    await insertEpisode(tx, write)
    trace.subject(write.subjectId)
    trace.resource('episode', write.episodeId)
    return { status: 201, headers: located(write.episodeId, 1), body: representEpisode(asRow(write)) }
  })
}

const located = (id: string, version: number) => ({ Location: `/v1/episodes/${id}`, ETag: etagOf(version) })
