import { listMeasurementErrors as loadPage } from '../../store/measurement-error-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type Page, type PageRequest } from '../shared/paging.ts'
import { representMeasurementError, type MeasurementErrorRepresentation } from './represent-measurement-error.ts'

/** Oldest first; of a series and measure the newest is the one that decides. */
export async function listMeasurementErrors(
  ctx: Context,
  input: { page: PageRequest },
): Promise<Page<MeasurementErrorRepresentation>> {
  return perform(ctx, 'measurement-errors.list', async (tx) => {
    const page = pageOf(await loadPage(tx, input.page.after, input.page.limit + 1), input.page)
    return { ...page, items: page.items.map(representMeasurementError) }
  })
}
