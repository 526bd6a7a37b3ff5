/** What a face finds wrong before a use case does is a refusal all the same, and stands in the log. */
import type { Context } from '../application/context.ts'
import { recordFailure, recordRefusal } from '../application/perform.ts'
import { AppError } from '../domain/errors.ts'
import { noteInSecurityLog, type Origin } from '../server/authenticate.ts'
import type { Action, Attempt } from '../tenancy/policy.ts'
import { contextOf, type Asker, type FaceDeps } from './context.ts'

export async function audited<T>(ctx: Context, action: Action, work: () => T | Promise<T>): Promise<T> {
  try {
    return await work()
  } catch (error) {
    if (error instanceof AppError) await recordRefusal(ctx, action, error)
    throw error
  }
}

/**
 * What no use case has written down: to the log of the clinic that asked, else (nobody known, or a team, which asks no
 * clinic in particular) to the bounded log of the machine. An outage can't be written down where it is one; what failed by
 * our fault is, if that still works.
 */
export async function recordOutcome(
  request: Asker & Origin,
  deps: FaceDeps,
  attempt: Attempt,
  error: AppError,
): Promise<void> {
  const isOfClinic = request.actor?.kind === 'clinic'
  if (error.code === 'internal' && isOfClinic)
    await recordFailure(contextOf(request, deps), attempt).catch(() => undefined)
  // Authentication notes its own refusals.
  if (error.status >= 500 || error.code === 'unauthenticated') return
  if (isOfClinic) await recordRefusal(contextOf(request, deps), attempt, error)
  else await noteInSecurityLog(request, deps.db, error.code)
}
