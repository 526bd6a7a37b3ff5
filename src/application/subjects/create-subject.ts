import { v7 as uuidv7 } from 'uuid'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { SubjectDocument } from '../../domain/subject-document.ts'
import { insertSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { etagOf } from '../shared/versions.ts'
import { refuseTakenIdentifiers, subjectWrite } from './subject-write.ts'
import { representSubject } from './represent-subject.ts'

export async function createSubject(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<SubjectDocument> },
): Promise<Created> {
  return createOnce(ctx, 'subjects.create', input.once, async (tx, trace) => {
    const write = subjectWrite(ctx, uuidv7({ msecs: ctx.now.getTime() }), 1, input.document())
    await refuseTakenIdentifiers(tx, write)
    await insertSubject(tx, write)
    trace.subject(write.subjectId)
    const body = representSubject({ ...write, id: write.subjectId, sex: write.sex as 'unknown', heightM: write.heightM ?? null }) // prettier-ignore
    return { status: 201, headers: { Location: `/v1/subjects/${write.subjectId}`, ETag: etagOf(1) }, body }
  })
}
