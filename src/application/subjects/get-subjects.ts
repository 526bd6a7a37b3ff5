import { loadSubjects } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'
import { representSubject, type SubjectRepresentation } from './represent-subject.ts'

export async function getSubjects(
  ctx: Context,
  input: { subjectIds: readonly string[] },
): Promise<readonly (SubjectRepresentation | null)[]> {
  return perform(ctx, 'subjects.read', async (tx, trace) => {
    const rows = await loadSubjects(tx, distinctIds(input.subjectIds), ctx.now)
    rows.forEach((row) => trace.subject(row.id))
    return inOrder(trace, input.subjectIds, new Map(rows.map((row) => [row.id, representSubject(row)])))
  })
}
