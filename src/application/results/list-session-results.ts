import { loadSession } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { loadSessionResults, type SessionResults } from './load-session-results.ts'

/** Of the session in force, or of a version of it. */
export async function listSessionResults(
  ctx: Context,
  input: { sessionId: string; version: number | null },
): Promise<SessionResults> {
  return perform(ctx, 'results.read', async (tx, trace) => {
    const session = orNotFound(await loadSession(tx, input.sessionId, input.version))
    const [results] = await loadSessionResults(tx, trace, [session], ctx.now)
    return orNotFound(results)
  })
}
