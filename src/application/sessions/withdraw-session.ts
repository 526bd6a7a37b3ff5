import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { loadSession, lockSession, reviseSession, supersedeVersion } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { requireVersion } from '../shared/versions.ts'
import { representSessionRow } from './represent-session-row.ts'

/** Entered in error: out of every trend at once, still readable with its reason, its external id never used again. */
export async function withdrawSession(
  ctx: Context,
  input: { sessionId: string; ifMatch: string | undefined; document: LazyDocument<{ reason: string }> },
) {
  return perform(ctx, 'sessions.withdraw', async (tx, trace) => {
    const current = orNotFound(await lockSession(tx, input.sessionId))
    trace.subject(current.subjectId)
    trace.resource('session', input.sessionId)
    requireVersion(input.ifMatch, current.version)
    if (current.status === 'entered_in_error') throw new AppError('withdrawn')
    const { reason } = input.document().value
    trace.personal('reason', current.subjectId, reason)
    const before = orNotFound(await loadSession(tx, input.sessionId, null))
    await supersedeVersion(tx, input.sessionId, ctx.now)
    const { externalId, supersededAt: _, ...version } = before
    const withdrawn = {
      ...version,
      version: current.version + 1,
      kind: 'entered_in_error',
      reason,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    } as const
    await reviseSession(tx, withdrawn)
    return { session: representSessionRow({ ...withdrawn, externalId, supersededAt: null }, null) }
  })
}
