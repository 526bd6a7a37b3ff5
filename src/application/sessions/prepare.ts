import { documentError } from '../../domain/errors.ts'
import type { Context } from '../context.ts'
import type { PreparationOptions, PreparedSession } from '../prepare-session/prepared-session.ts'

/** Off the event loop; every fault of the document in one refusal. The way in for push, dry run and amendment. */
export async function prepare(
  ctx: Context,
  bytes: Uint8Array,
  options: Omit<PreparationOptions, 'now'> = {},
): Promise<PreparedSession> {
  const preparation = await ctx.pool.prepare(bytes, { ...options, now: ctx.now })
  if (preparation.outcome === 'refused') throw documentError(preparation.faults)
  return preparation.session
}
