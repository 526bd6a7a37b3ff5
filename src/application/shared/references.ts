/** Where a document points. A reference to another clinic's record and to nothing give the same answer. */
import { AppError } from '../../domain/errors.ts'
import type { PersonReference, RecordReference } from '../../domain/reference.ts'
import { findDynamometerId } from '../../store/dynamometer-store.ts'
import { findMemberId } from '../../store/member-store.ts'
import { findSessionId } from '../../store/session-store.ts'
import { findSubjectId } from '../../store/subject-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'

export const resolveSubject = (tx: ClinicTx, reference: PersonReference, pointer: string): Promise<string> =>
  found(findSubjectId(tx, reference), pointer)

export const resolveDynamometer = (tx: ClinicTx, reference: RecordReference, pointer: string): Promise<string> =>
  found(findDynamometerId(tx, reference), pointer)

export const resolveMember = (tx: ClinicTx, reference: PersonReference, pointer: string): Promise<string> =>
  found(findMemberId(tx, reference), pointer)

export const resolveSession = (tx: ClinicTx, reference: RecordReference, pointer: string): Promise<string> =>
  found(findSessionId(tx, reference), pointer)

async function found(lookup: Promise<string | null>, pointer: string): Promise<string> {
  const id = await lookup
  if (id === null) throw referenceNotFound(pointer)
  return id
}

export function referenceNotFound(pointer: string): AppError {
  return new AppError('reference_not_found', {
    detail: 'A reference points at nothing known here. Nothing was stored.',
    faults: [{ pointer, code: 'reference_not_found', message: 'Nothing known here answers to this reference.' }],
  })
}
