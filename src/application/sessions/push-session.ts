import { announce } from '../../store/announcement-store.ts'
import type { Context } from '../context.ts'
import { alreadyAnswered, createOnce, type Created, type OnceKey } from '../create-once.ts'
import { etagOf } from '../shared/versions.ts'
import { describeSession } from './describe-session.ts'
import { nameStoredRecordings } from './name-stored-recordings.ts'
import { prepare } from './prepare.ts'
import { storeSession } from './store-session.ts'

/** One visit as one document: complete or not there at all; idempotent by key and by external id. */
export async function pushSession(ctx: Context, input: { once: OnceKey; bytes: Uint8Array }): Promise<Created> {
  // An answer that exists already needs no analysis; createOnce has the last word on it.
  const prepared = (await alreadyAnswered(ctx, input.once)) ? null : await prepare(ctx, input.bytes)
  return createOnce(ctx, 'sessions.push', input.once, async (tx, trace) => {
    const session = prepared ?? (await prepare(ctx, input.bytes))
    const stored = await storeSession(tx, ctx, session)
    trace.subject(stored.subjectId)
    trace.resource('session', stored.sessionId)
    nameStoredRecordings(trace, session)
    if (stored.isNew) await announce(tx, { kind: 'session_stored', id: stored.sessionId, subjectId: stored.subjectId })
    const body = await describeSession(tx, ctx, stored.sessionId)
    const headers = { Location: `/v1/sessions/${stored.sessionId}`, ETag: etagOf(stored.version) }
    return { status: stored.isNew ? 201 : 200, headers, body }
  })
}
