import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { describeAlone } from './describe-session.ts'
import { loadSessionRecords, type SessionRecord } from './load-session-records.ts'

/** The sessions in force: what was sent, and what came of it. */
export async function getSessions(
  ctx: Context,
  input: { sessionIds: readonly string[] },
): Promise<readonly (SessionAnswer | null)[]> {
  const records = await perform(ctx, 'sessions.read', async (tx, trace) => {
    const found = await loadSessionRecords(tx, distinctIds(input.sessionIds), ctx.now)
    for (const { session } of found) {
      trace.subject(session.subjectId)
      trace.resource('session', session.sessionId)
    }
    return inOrder(trace, input.sessionIds, new Map(found.map((record) => [record.session.sessionId, record])))
  })
  return records.map((record) => record && answerOf(record))
}

export type SessionAnswer = ReturnType<typeof answerOf>

function answerOf(record: SessionRecord) {
  return { ...describeAlone(record), document: record.session.document as Record<string, unknown> }
}
