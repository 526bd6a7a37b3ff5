/** The effect of a push inside its transaction: shared by the push and by the dry run, which takes it back. */
import { v7 as uuidv7 } from 'uuid'
import { AppError } from '../../domain/errors.ts'
import { findByExternalId, insertSession, loadSession, lockExternalId } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'
import { differingPointers } from '../shared/differences.ts'
import { sameHash } from '../shared/doc-hash.ts'
import { resolvePlace } from './resolve-place.ts'
import { sessionContent } from './session-content.ts'
import { sessionHazards } from './session-hazards.ts'
import { writeContent } from './write-content.ts'

export interface StoredSession {
  readonly sessionId: string
  readonly version: number
  readonly subjectId: string
  /** False: the same content was here already, for ever found by its external id. */
  readonly isNew: boolean
}

export async function storeSession(tx: ClinicTx, ctx: Context, prepared: PreparedSession): Promise<StoredSession> {
  const { externalId } = prepared.document
  await lockExternalId(tx, externalId)
  const taken = await findByExternalId(tx, externalId)
  if (taken !== null) {
    if (taken.status === 'entered_in_error') throw new AppError('withdrawn', { extra: { id: taken.id } })
    if (!sameHash(taken.docHash, Buffer.from(prepared.documentHash, 'hex'))) {
      const stored = await loadSession(tx, taken.id, null)
      throw new AppError('external_id_conflict', {
        detail: 'Other content was pushed under this external id. Send an amendment to change it.',
        extra: { id: taken.id, differs: differingPointers(stored?.document, prepared.pushed) },
      })
    }
    return { sessionId: taken.id, version: taken.version, subjectId: taken.subjectId, isNew: false }
  }
  const place = await resolvePlace(tx, ctx, prepared.document, [])
  const sessionId = uuidv7()
  const content = sessionContent(ctx, prepared, place, { sessionId, version: 1, kind: 'pushed', reason: null })
  const hazards = await sessionHazards(tx, ctx, prepared, place, content)
  await insertSession(tx, content.session, externalId)
  await writeContent(tx, { ...content, flags: [...content.flags, ...hazards] })
  return { sessionId, version: 1, subjectId: place.subject.id, isNew: true }
}
