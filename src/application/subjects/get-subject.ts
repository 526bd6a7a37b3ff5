import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'
import { getSubjects } from './get-subjects.ts'
import type { SubjectRepresentation } from './represent-subject.ts'

export async function getSubject(ctx: Context, input: { subjectId: string }): Promise<SubjectRepresentation> {
  const [subject] = await getSubjects(ctx, { subjectIds: [input.subjectId] })
  return orNotFound(subject)
}
