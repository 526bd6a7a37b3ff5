import { AppError } from '../../domain/errors.ts'
import type { EpisodeDocument } from '../../domain/episode-document.ts'
import type { Parsed } from '../../domain/parsed.ts'
import type { EpisodeRow, EpisodeWrite } from '../../store/episode-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { findCriteriaSet } from '../readiness/find-criteria-set.ts'
import { docHashOf } from '../shared/doc-hash.ts'
import { resolveSession, resolveSubject } from '../shared/references.ts'

/** Everything an episode points at must be there; nothing is created on the way. */
export async function episodeWrite(
  tx: ClinicTx,
  ctx: Context,
  place: { episodeId: string; version: number },
  document: Parsed<EpisodeDocument>,
): Promise<EpisodeWrite> {
  const { value } = document
  const subjectId = await resolveSubject(tx, value.subject, '#/subject')
  const baselineSessionId =
    value.baselineSession === undefined ? null : await resolveSession(tx, value.baselineSession, '#/baselineSession')
  if (value.criteriaSet !== undefined && (await findCriteriaSet(tx, value.criteriaSet)) === null) {
    throw new AppError('reference_not_found', {
      faults: [{ pointer: '#/criteriaSet', code: 'reference_not_found', message: 'No criteria set of that key and version is known here.' }], // prettier-ignore
    })
  }
  return {
    ...place,
    subjectId,
    externalId: value.externalId,
    docHash: docHashOf(document.sent),
    document: document.sent,
    joint: value.joint,
    involvedSide: value.involvedSide,
    status: value.status,
    injuredOn: value.injuredOn,
    surgeryOn: value.surgeryOn,
    criteriaSet: value.criteriaSet,
    baselineSessionId,
    recordedBy: ctx.actor.principalId,
    recordedAt: ctx.now,
  }
}

export function asRow(write: EpisodeWrite): EpisodeRow {
  return {
    ...write,
    id: write.episodeId,
    involvedSide: write.involvedSide as EpisodeRow['involvedSide'],
    injuredOn: write.injuredOn ?? null,
    surgeryOn: write.surgeryOn ?? null,
    criteriaSet: write.criteriaSet ?? null,
    supersededAt: null,
  }
}
