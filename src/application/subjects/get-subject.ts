import { loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representSubject, type SubjectRepresentation } from './represent-subject.ts'

export async function getSubject(ctx: Context, input: { subjectId: string }): Promise<SubjectRepresentation> {
  return perform(ctx, 'subjects.read', async (tx, trace) => {
    const row = orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(row.id)
    return representSubject(row)
  })
}
