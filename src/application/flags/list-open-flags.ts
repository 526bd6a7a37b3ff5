import { listOpenFlags as loadPage } from '../../store/flag-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type Page, type PageRequest } from '../shared/paging.ts'
import { representFlag, type FlagRepresentation } from './represent-flag.ts'

export interface WorkListItem extends FlagRepresentation {
  readonly subjectId: string
}

/** The work list: what is open, oldest first. */
export async function listOpenFlags(
  ctx: Context,
  input: { page: PageRequest; level: 'note' | 'caution' | 'hold' | null },
): Promise<Page<WorkListItem>> {
  return perform(ctx, 'flags.list', async (tx, trace) => {
    const { after, limit } = input.page
    const page = pageOf(await loadPage(tx, { level: input.level, after, take: limit + 1 }), input.page)
    page.items.forEach((row) => trace.subject(row.subjectId))
    return { ...page, items: page.items.map((row) => ({ ...representFlag(row), subjectId: row.subjectId })) }
  })
}
