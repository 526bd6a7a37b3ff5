import { AppError } from '../../domain/errors.ts'
import type { FlagResolutionDocument } from '../../domain/flag-resolution-document.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { lockFlag, resolveFlag as writeResolution, type FlagRow } from '../../store/flag-store.ts'
import { requireLicence } from '../../tenancy/policy.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { representFlag } from './represent-flag.ts'

/** A licensed clinician's word on a hazard, once. Dismissed, the value counts again; confirmed, it stays out for good. */
export async function resolveFlag(
  ctx: Context,
  input: { flagId: string; once: OnceKey; document: LazyDocument<FlagResolutionDocument> },
): Promise<Created> {
  requireLicence(ctx.actor)
  return createOnce(ctx, 'flags.resolve', input.once, async (tx, trace) => {
    const flag = orNotFound(await lockFlag(tx, input.flagId))
    trace.subject(flag.subjectId)
    trace.resource('flag', flag.id)
    trace.resource('session', flag.sessionId)
    refuseDecided(flag)
    const { status, reason } = input.document().value
    const resolution = { status, resolvedBy: ctx.actor.principalId, resolvedAt: ctx.now, resolvedReason: reason }
    await writeResolution(tx, flag.id, resolution)
    trace.personal('reason', flag.subjectId, reason)
    trace.detail('flagCode', flag.code)
    trace.detail('status', status)
    const headers = { Location: `/v1/sessions/${flag.sessionId}/flags` }
    return { status: 201, headers, body: representFlag({ ...flag, ...resolution }) }
  })
}

function refuseDecided(flag: FlagRow): void {
  if (flag.status !== 'open') {
    throw new AppError('already_decided', { detail: `This flag was ${flag.status} before.`, extra: { flagStatus: flag.status } }) // prettier-ignore
  }
  if (flag.supersededAt !== null) {
    throw new AppError('already_decided', { detail: 'The session was amended or withdrawn since: this flag speaks of what no longer stands.' }) // prettier-ignore
  }
}
