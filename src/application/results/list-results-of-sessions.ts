import { loadSessions } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { loadSessionResults, type SessionResults } from './load-session-results.ts'

/** In the order performed; of the sessions in force. */
export async function listResultsOfSessions(
  ctx: Context,
  input: { sessionIds: readonly string[] },
): Promise<readonly (SessionResults | null)[]> {
  return perform(ctx, 'results.read', async (tx, trace) => {
    const lists = await loadSessionResults(tx, trace, await loadSessions(tx, distinctIds(input.sessionIds)), ctx.now)
    return inOrder(trace, input.sessionIds, new Map(lists.map((list) => [list.sessionId, list])))
  })
}
