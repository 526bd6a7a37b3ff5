import type { JsonValue } from '../../ledger/canonical-event.ts'
import { listAuditEvents as loadPage, type AuditFilter } from '../../store/audit-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { pageOf, type PageRequest } from '../shared/paging.ts'
import { readPersonalTexts } from './personal-texts.ts'
import { representEvent } from './represent-event.ts'

/**
 * The log as it is read by people: newest first, sealed or not yet. Reading it is an event of its own; it names the
 * subject that was asked for, and those whose texts were shown in clear.
 */
export async function listAuditEvents(ctx: Context, input: { page: PageRequest; filter: AuditFilter }) {
  return perform(ctx, 'audit.read', async (tx, trace) => {
    const rows = await loadPage(tx, input.filter, { after: input.page.after, take: input.page.limit + 1 })
    const { items, nextCursor } = pageOf(rows, input.page)
    const events = items.map(({ id, details }) => ({ id, details: details as JsonValue }))
    const { details, shown } = await readPersonalTexts(tx, ctx.subjectKeys, events)
    // A subject of whom the log says nothing was not disclosed, and is not made known by asking.
    if (input.filter.subjectId !== null && items.length > 0) trace.subject(input.filter.subjectId)
    shown.forEach(trace.subject)
    trace.detail('events', items.length)
    return { items: items.map((row, index) => representEvent(row, details[index] ?? {})), nextCursor }
  })
}
