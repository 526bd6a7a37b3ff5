import { memberNames } from '../../store/member-store.ts'
import { loadSessionVersions } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representSessionRow } from './represent-session-row.ts'

/** Every version with its words: who, when, why. Both subjects of a moved session are disclosed by it. */
export async function listSessionVersions(ctx: Context, input: { sessionId: string }) {
  return perform(ctx, 'sessions.read', async (tx, trace) => {
    const rows = await loadSessionVersions(tx, input.sessionId)
    orNotFound(rows[0])
    rows.forEach((row) => trace.subject(row.subjectId))
    trace.resource('session', input.sessionId)
    const names = await memberNames(
      tx,
      rows.map((row) => row.recordedBy),
    )
    const items = rows.map((row) => ({
      ...representSessionRow(row, null),
      kind: row.kind,
      reason: row.reason,
      recordedBy: { id: row.recordedBy, name: names.get(row.recordedBy) ?? null },
      supersededAt: row.supersededAt?.toISOString() ?? null,
      document: row.document as Record<string, unknown>,
    }))
    return { items }
  })
}
