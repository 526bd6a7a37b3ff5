import { v7 as uuidv7 } from 'uuid'
import type { LegalHoldDocument, LegalHoldReleaseDocument } from '../../domain/erasure-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import {
  insertLegalHold,
  listLegalHolds as loadHolds,
  lockLegalHold,
  releaseLegalHold as writeRelease,
  type LegalHoldRow,
} from '../../store/erasure-store.ts'
import { lockSubjectVersion, loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'

/** Until it is released, nothing about the subject is erased. */
export async function placeLegalHold(
  ctx: Context,
  input: { subjectId: string; once: OnceKey; document: LazyDocument<LegalHoldDocument> },
): Promise<Created> {
  return createOnce(ctx, 'legal-holds.place', input.once, async (tx, trace) => {
    const { subjectId } = input
    orNotFound(await lockSubjectVersion(tx, subjectId))
    trace.subject(subjectId)
    const { reason } = input.document().value
    const hold = { id: uuidv7({ msecs: ctx.now.getTime() }), subjectId, reason, placedBy: ctx.actor.principalId, placedAt: ctx.now } // prettier-ignore
    await insertLegalHold(tx, hold)
    trace.resource('legal-hold', hold.id)
    trace.personal('reason', subjectId, reason)
    const headers = { Location: `/v1/subjects/${subjectId}/legal-holds` }
    return { status: 201, headers, body: represent({ ...hold, releasedBy: null, releasedAt: null, releasedReason: null }) } // prettier-ignore
  })
}

export async function releaseLegalHold(
  ctx: Context,
  input: { subjectId: string; holdId: string; once: OnceKey; document: LazyDocument<LegalHoldReleaseDocument> },
): Promise<Created> {
  return createOnce(ctx, 'legal-holds.release', input.once, async (tx, trace) => {
    const hold = orNotFound(await lockLegalHold(tx, input.holdId))
    if (hold.subjectId !== input.subjectId.toLowerCase()) throw new AppError('not_found')
    trace.subject(hold.subjectId)
    trace.resource('legal-hold', hold.id)
    if (hold.releasedAt !== null) throw new AppError('already_decided', { detail: 'This hold was released before.' })
    const { reason } = input.document().value
    const release = { releasedBy: ctx.actor.principalId, releasedAt: ctx.now, releasedReason: reason }
    await writeRelease(tx, hold.id, release)
    trace.personal('reason', hold.subjectId, reason)
    const headers = { Location: `/v1/subjects/${hold.subjectId}/legal-holds` }
    return { status: 201, headers, body: represent({ ...hold, ...release }) }
  })
}

export async function listLegalHolds(ctx: Context, input: { subjectId: string }) {
  return perform(ctx, 'legal-holds.list', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    return { items: (await loadHolds(tx, input.subjectId)).map(represent) }
  })
}

function represent(hold: LegalHoldRow) {
  const { id, subjectId, reason, placedBy, releasedBy, releasedReason } = hold
  const [placedAt, releasedAt] = [hold.placedAt.toISOString(), hold.releasedAt?.toISOString() ?? null]
  return { id, subjectId, reason, placedBy, placedAt, releasedBy, releasedAt, releasedReason }
}
