import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'
import { getSessions, type SessionAnswer } from './get-sessions.ts'

export async function getSession(ctx: Context, input: { sessionId: string }): Promise<SessionAnswer> {
  const [session] = await getSessions(ctx, { sessionIds: [input.sessionId] })
  return orNotFound(session)
}
