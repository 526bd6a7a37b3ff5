import { listSessionHeadsOfSubjects } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds } from '../shared/batch.ts'
import { pageOf, type Page, type PageRequest } from '../shared/paging.ts'
import { summariseSession, type SessionSummary } from './summarise-session.ts'

/** One page of each subject's sessions, by id. Of a subject that is not found, as of one without sessions: an empty page. */
export async function listSessionsOfSubjects(
  ctx: Context,
  input: { subjectIds: readonly string[]; page: PageRequest },
): Promise<readonly Page<SessionSummary>[]> {
  return perform(ctx, 'sessions.list', async (tx, trace) => {
    const { after, limit } = input.page
    const of = { subjectIds: distinctIds(input.subjectIds), after, take: limit + 1 }
    const rows = Map.groupBy(await listSessionHeadsOfSubjects(tx, of), (row) => row.subjectId)
    for (const subjectId of rows.keys()) trace.subject(subjectId)
    return input.subjectIds.map((id) => pageOf((rows.get(id.toLowerCase()) ?? []).map(summariseSession), input.page))
  })
}
