import { listDynamometers as loadPage } from '../../store/dynamometer-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type Page, type PageRequest } from '../shared/paging.ts'
import { representDynamometer, type DynamometerRepresentation } from './represent-dynamometer.ts'

export async function listDynamometers(
  ctx: Context,
  input: { page: PageRequest },
): Promise<Page<DynamometerRepresentation>> {
  return perform(ctx, 'dynamometers.list', async (tx) => {
    const page = pageOf(await loadPage(tx, input.page.after, input.page.limit + 1), input.page)
    return { ...page, items: page.items.map(representDynamometer) }
  })
}
