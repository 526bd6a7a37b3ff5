import { documentError } from '../../domain/errors.ts'
import type { Context } from '../context.ts'
import type { PreparationOptions, PreparedSession } from '../prepare-session/prepared-session.ts'

/** Off the event loop; every fault of the document in one refusal. */
export async function prepare(
  ctx: Context,
  bytes: Uint8Array,
  options: PreparationOptions = {},
): Promise<PreparedSession> {
  // prettier-ignore
  const preparation = await ctx.pool.prepare(bytes, options)
  if (preparation.outcome === 'refused') throw documentError(preparation.faults)
  return preparation.session
}
