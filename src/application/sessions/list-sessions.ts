import { findSubjectId } from '../../store/subject-store.ts'
import { findByExternalId, listSessionHeads } from '../../store/session-store.ts'
import type { SystemAndValue } from '../../domain/reference.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type PageRequest } from '../shared/paging.ts'

/** Heads of sessions by id, of one subject, or the one of an external id. */
export async function listSessions(
  ctx: Context,
  input: { page: PageRequest; subjectId: string | null; externalId: SystemAndValue | null },
) {
  return perform(ctx, 'sessions.list', async (tx, trace) => {
    const ids = input.externalId === null ? null : await findByExternalId(tx, input.externalId)
    const subjectId = input.subjectId === null ? null : await findSubjectId(tx, { id: input.subjectId })
    const nobody = input.subjectId !== null && subjectId === null
    const rows =
      nobody || (input.externalId !== null && ids === null)
        ? []
        : await listSessionHeads(tx, { subjectId, after: input.page.after, take: input.page.limit + 1, id: ids?.id ?? null }) // prettier-ignore
    const page = pageOf(rows, input.page)
    page.items.forEach((row) => trace.subject(row.subjectId))
    const items = page.items.map((row) => ({
      id: row.id,
      version: row.version,
      state: row.status,
      subjectId: row.subjectId,
      episodeId: row.episodeId,
      testedAt: row.testedAt.toISOString(),
    }))
    return { ...page, items }
  })
}
