import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { describeSession } from './describe-session.ts'

/** As of now: the answer to a push holds a snapshot. */
export async function getSessionComparability(ctx: Context, input: { sessionId: string }) {
  return perform(ctx, 'comparability.read', async (tx, trace) => {
    const { session, comparability } = await describeSession(tx, ctx, input.sessionId)
    trace.subject(session.subjectId)
    trace.resource('session', input.sessionId)
    return { sessionId: session.id, version: session.version, comparability }
  })
}
