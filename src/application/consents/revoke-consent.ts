import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { lockConsent, revokeConsent } from '../../store/consent-store.ts'
import { takeBack } from '../../store/share-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { representConsent } from './represent-consent.ts'

/** Holds for every request that begins after the answer. What a team has pulled before can't be called back. */
export async function revokeGivenConsent(
  ctx: Context,
  input: { consentId: string; once: OnceKey; document: LazyDocument<{ reason: string }> },
): Promise<Created> {
  return createOnce(ctx, 'consents.revoke', input.once, async (tx, trace) => {
    const consent = orNotFound(await lockConsent(tx, input.consentId))
    trace.subject(consent.subjectId)
    trace.resource('consent', consent.id)
    trace.resource('team', consent.teamId)
    const { reason } = input.document().value
    trace.personal('reason', consent.subjectId, reason)
    if (consent.revokedAt !== null) throw new AppError('already_decided')
    const revocation = { revokedAt: ctx.now, revokedReason: reason }
    await revokeConsent(tx, consent.id, { ...revocation, revokedBy: ctx.actor.principalId })
    await takeBack(tx, { consentId: consent.id })
    const headers = { Location: `/v1/subjects/${consent.subjectId}/consents` }
    return { status: 201, headers, body: representConsent({ ...consent, ...revocation }, ctx.now) }
  })
}
