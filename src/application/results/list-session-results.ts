import { loadFlags } from '../../store/flag-store.ts'
import { loadResultsOfSession } from '../../store/result-store.ts'
import { loadSession } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representResult } from './represent-result.ts'

/** In the order performed; of the session in force, or of a version of it. */
export async function listSessionResults(ctx: Context, input: { sessionId: string; version: number | null }) {
  return perform(ctx, 'results.read', async (tx, trace) => {
    const session = orNotFound(await loadSession(tx, input.sessionId, input.version))
    trace.subject(session.subjectId)
    trace.resource('session', input.sessionId)
    const rows = await loadResultsOfSession(tx, input.sessionId, session.version)
    const flags = await loadFlags(tx, { sessionId: input.sessionId }, ctx.now)
    const items = rows.map((row) => representResult(row, flags, ctx.now))
    return { sessionId: input.sessionId, version: session.version, items }
  })
}
