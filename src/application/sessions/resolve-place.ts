/** Where a pushed session belongs: everything it points at must be there, and every missing reference is said at once. */
import type { DynamometerDescription } from '../../domain/dynamometer-document.ts'
import { dynamometerOnRecord } from '../../domain/dynamometer-document.ts'
import { AppError, documentError, type FieldFault } from '../../domain/errors.ts'
import { jsonPointer, type JsonPath } from '../../domain/json-pointer.ts'
import { findDynamometerId, loadDescription } from '../../store/dynamometer-store.ts'
import { findEpisodeId, loadEpisode, type EpisodeRow } from '../../store/episode-store.ts'
import { findMemberId } from '../../store/member-store.ts'
import { findSessionId, loadSession } from '../../store/session-store.ts'
import { findSubjectId, loadSubject, type SubjectRow } from '../../store/subject-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { PreparedDocument } from '../prepare-session/prepared-session.ts'
import { descriptionFaults } from './check-description.ts'

export interface SessionPlace {
  readonly subject: SubjectRow
  readonly episode: EpisodeRow | null
  readonly dynamometerId: string | null
  readonly description: DynamometerDescription | null
  readonly descriptionVersion: number | null
  readonly operatorId: string | null
}

export async function resolvePlace(
  tx: ClinicTx,
  ctx: Context,
  document: PreparedDocument,
  at: JsonPath,
): Promise<SessionPlace> {
  const missing: FieldFault[] = []
  const found = <T>(value: T | null, ...path: JsonPath): T | null => {
    if (value === null) {
      const message = 'Nothing known here answers to this reference.'
      missing.push({ pointer: jsonPointer([...at, ...path]), code: 'reference_not_found', message })
    }
    return value
  }

  const subjectId = found(await findSubjectId(tx, document.subject), 'subject')
  const subject = subjectId === null ? null : await loadSubject(tx, subjectId, ctx.now)
  const episode = await loadEpisodeOf(tx, ctx, document, subjectId, found)
  const { dynamometer } = document
  const dynamometerId =
    dynamometer === undefined ? null : found(await findDynamometerId(tx, dynamometer), 'dynamometer')
  const row = dynamometerId === null ? null : await loadDescription(tx, dynamometerId, dynamometer?.descriptionVersion ?? null) // prettier-ignore
  if (dynamometerId !== null) found(row, 'dynamometer', 'descriptionVersion')
  await checkRepeatOf(tx, document, subjectId, found)
  const operatorId =
    document.operator === undefined ? null : found(await findMemberId(tx, document.operator), 'operator')
  for (const index of document.unknownRecordings) found(null, 'sets', index, 'recording', 'storedSha256')

  if (missing.length > 0 || subject === null) {
    throw new AppError('reference_not_found', { detail: 'A reference points at nothing known here. Nothing was stored.', faults: missing }) // prettier-ignore
  }
  const description = row === null ? null : dynamometerOnRecord.parse(row.document)
  const faults = description === null ? [] : descriptionFaults(document.setups, description, at)
  if (faults.length > 0) throw documentError(faults)
  return { subject, episode, dynamometerId, description, descriptionVersion: row?.version ?? null, operatorId }
}

/** A test repeats one of the same person. */
async function checkRepeatOf(
  tx: ClinicTx,
  document: PreparedDocument,
  subjectId: string | null,
  found: <T>(value: T | null, ...path: JsonPath) => T | null,
): Promise<void> {
  if (document.repeatOf === undefined) return
  const id = found(await findSessionId(tx, document.repeatOf), 'repeatOf')
  if (id === null || subjectId === null) return
  const first = await loadSession(tx, id, null)
  found(first?.subjectId === subjectId ? id : null, 'repeatOf')
}

/** Another subject's episode is as good as none: it would carry one person's surgery date to another. */
async function loadEpisodeOf(
  tx: ClinicTx,
  ctx: Context,
  document: PreparedDocument,
  subjectId: string | null,
  found: <T>(value: T | null, ...path: JsonPath) => T | null,
): Promise<EpisodeRow | null> {
  if (document.episode === undefined) return null
  const id = found(await findEpisodeId(tx, document.episode), 'episode')
  if (id === null || subjectId === null) return null
  const episode = await loadEpisode(tx, id, ctx.now)
  return found(episode !== null && episode.subjectId === subjectId ? episode : null, 'episode')
}
