import { loadSession } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { describeSession } from './describe-session.ts'

/** The session in force: what was sent, and what came of it. */
export async function getSession(ctx: Context, input: { sessionId: string }) {
  return perform(ctx, 'sessions.read', async (tx, trace) => {
    const row = orNotFound(await loadSession(tx, input.sessionId, null))
    trace.subject(row.subjectId)
    trace.resource('session', input.sessionId)
    const { comparability: _, ...description } = await describeSession(tx, ctx, input.sessionId)
    return { ...description, document: row.document as Record<string, unknown> }
  })
}
