import { findByExternalId, listSessionHeads } from '../../store/session-store.ts'
import type { SystemAndValue } from '../../domain/reference.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type Page, type PageRequest } from '../shared/paging.ts'
import { listSessionsOfSubjects } from './list-sessions-of-subjects.ts'
import { summariseSession, type SessionSummary } from './summarise-session.ts'

/** Heads of sessions by id, of one subject, or the one of an external id. */
export async function listSessions(
  ctx: Context,
  input: { page: PageRequest; subjectId: string | null; externalId: SystemAndValue | null },
): Promise<Page<SessionSummary>> {
  const { page, subjectId, externalId } = input
  if (subjectId !== null && externalId === null) {
    const [own] = await listSessionsOfSubjects(ctx, { subjectIds: [subjectId], page })
    return own ?? { items: [], nextCursor: null }
  }
  return perform(ctx, 'sessions.list', async (tx, trace) => {
    const named = externalId === null ? null : await findByExternalId(tx, externalId)
    const rows =
      externalId !== null && named === null
        ? []
        : await listSessionHeads(tx, { subjectId, after: page.after, take: page.limit + 1, id: named?.id ?? null })
    const heads = pageOf(rows, page)
    heads.items.forEach((row) => trace.subject(row.subjectId))
    return { ...heads, items: heads.items.map(summariseSession) }
  })
}
