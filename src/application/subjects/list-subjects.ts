import type { SystemAndValue } from '../../domain/reference.ts'
import { findSubjectId, listSubjects as loadPage, loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type Page, type PageRequest } from '../shared/paging.ts'
import { representSubject, type SubjectRepresentation } from './represent-subject.ts'

/** Found by identifier, never by name: two people share a name more often than a clinic expects. */
export async function listSubjects(
  ctx: Context,
  input: { page: PageRequest; identifier: SystemAndValue | null },
): Promise<Page<SubjectRepresentation>> {
  return perform(ctx, 'subjects.list', async (tx, trace) => {
    const rows = await (input.identifier === null
      ? loadPage(tx, input.page.after, input.page.limit + 1)
      : findSubjectId(tx, { identifier: input.identifier }).then(async (id) => {
          const row = id === null ? null : await loadSubject(tx, id, ctx.now)
          return row === null ? [] : [row]
        }))
    const page = pageOf(rows, input.page)
    page.items.forEach((row) => trace.subject(row.id))
    return { ...page, items: page.items.map(representSubject) }
  })
}
