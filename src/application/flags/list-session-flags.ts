import { loadFlags } from '../../store/flag-store.ts'
import { loadSession } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representFlag, type FlagRepresentation } from './represent-flag.ts'

/** Flags on the session in force, resolved ones too. */
export async function listSessionFlags(
  ctx: Context,
  input: { sessionId: string },
): Promise<{ items: FlagRepresentation[] }> {
  return perform(ctx, 'flags.list', async (tx, trace) => {
    const session = orNotFound(await loadSession(tx, input.sessionId, null))
    trace.subject(session.subjectId)
    trace.resource('session', input.sessionId)
    const rows = await loadFlags(tx, { sessionId: input.sessionId }, ctx.now)
    return { items: rows.map(representFlag) }
  })
}
