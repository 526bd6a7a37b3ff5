import { listAuditEvents, subjectEverKnown } from '../../store/audit-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { pageOf, type PageRequest } from '../shared/paging.ts'
import { teamOfEvents } from './team-of-event.ts'

/**
 * Accounting of disclosures: who has seen or changed the data of one person, newest first, this request among them.
 * Refusals showed nothing and are left out. It outlives the person's erasure: the log knows ids, not people.
 */
export async function listDisclosures(ctx: Context, input: { subjectId: string; page: PageRequest }) {
  return perform(ctx, 'disclosures.read', async (tx, trace) => {
    const { erasedAt } = orNotFound(await subjectEverKnown(tx, input.subjectId))
    trace.subject(input.subjectId)
    const filter = { ...ANYTHING, subjectId: input.subjectId, outcome: 'done' }
    const rows = await listAuditEvents(tx, filter, { after: input.page.after, take: input.page.limit + 1 })
    const { items, nextCursor } = pageOf(rows, input.page)
    const teamOf = await teamOfEvents(tx)
    return {
      subjectId: input.subjectId,
      erasedAt: erasedAt?.toISOString() ?? null,
      items: items.map((row) => ({
        eventId: row.id,
        at: row.at.toISOString(),
        sealed: row.sequence === null ? null : { epoch: row.epoch ?? 0, sequence: Number(row.sequence) },
        actor: { principalId: row.actorPrincipalId, displayName: row.actorName, role: row.actorRole, client: row.client }, // prettier-ignore
        team: teamOf(row),
        purpose: row.purpose,
        action: row.action,
        requestId: row.requestId,
      })),
      nextCursor,
    }
  })
}

const ANYTHING = { actorPrincipalId: null, action: null, requestId: null, from: null, to: null }
