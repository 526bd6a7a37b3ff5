import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { withClinic } from '../../tenancy/with-clinic.ts'
import { describeSession, type SessionDescription } from './describe-session.ts'
import { nameStoredRecordings } from './name-stored-recordings.ts'
import { prepare } from './prepare.ts'
import { storeSession } from './store-session.ts'

/** Carries the answer out of a transaction that is taken back. */
class TakenBack extends Error {
  readonly subjectId: string
  readonly body: SessionDescription
  constructor(subjectId: string, body: SessionDescription) {
    super('dry run')
    this.subjectId = subjectId
    this.body = body
  }
}

/** Dry run of a push: the same body, the same answer, nothing stored, because it is stored and taken back. */
export async function checkSession(ctx: Context, input: { bytes: Uint8Array }): Promise<SessionDescription> {
  const prepared = await prepare(ctx, input.bytes)
  const answer = await tryOut(() =>
    withClinic(ctx.db, ctx.actor, async (tx) => {
      const stored = await storeSession(tx, ctx, prepared)
      throw new TakenBack(stored.subjectId, await describeSession(tx, ctx, stored.sessionId))
    }),
  )
  return perform(ctx, 'sessions.check', (_tx, trace) => {
    trace.subject(answer.subjectId)
    nameStoredRecordings(trace, prepared)
    return Promise.resolve(answer.body)
  })
}

async function tryOut(work: () => Promise<never>): Promise<TakenBack> {
  try {
    return await work()
  } catch (error) {
    if (error instanceof TakenBack) return error
    throw error
  }
}
