import type { LazyDocument } from '../../domain/parsed.ts'
import type { SubjectDocument } from '../../domain/subject-document.ts'
import { lockSubjectVersion, reviseSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { requireVersion } from '../shared/versions.ts'
import { representSubject, type SubjectRepresentation } from './represent-subject.ts'
import { refuseTakenIdentifiers, subjectWrite } from './subject-write.ts'

export async function editSubject(
  ctx: Context,
  input: { subjectId: string; ifMatch: string | undefined; document: LazyDocument<SubjectDocument> },
): Promise<SubjectRepresentation> {
  return perform(ctx, 'subjects.edit', async (tx, trace) => {
    const current = orNotFound(await lockSubjectVersion(tx, input.subjectId))
    trace.subject(input.subjectId)
    requireVersion(input.ifMatch, current)
    const write = subjectWrite(ctx, input.subjectId, current + 1, input.document())
    await refuseTakenIdentifiers(tx, write)
    await reviseSubject(tx, write)
    return representSubject({ ...write, id: write.subjectId, sex: write.sex as 'unknown', heightM: write.heightM ?? null }) // prettier-ignore
  })
}
