import { AppError } from '../../domain/errors.ts'
import type { Parsed } from '../../domain/parsed.ts'
import type { SubjectDocument } from '../../domain/subject-document.ts'
import { identifiersInUse, type SubjectWrite } from '../../store/subject-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'

export function subjectWrite(
  ctx: Context,
  subjectId: string,
  version: number,
  document: Parsed<SubjectDocument>,
): SubjectWrite {
  const { value } = document
  return {
    subjectId,
    version,
    identifiers: value.identifiers,
    document: document.sent,
    sex: value.sex,
    birthDate: value.birthDate,
    heightM: value.height?.canonicalValue,
    recordedBy: ctx.actor.principalId,
    recordedAt: ctx.now,
  }
}

export async function refuseTakenIdentifiers(tx: ClinicTx, write: SubjectWrite): Promise<void> {
  const taken = await identifiersInUse(tx, write.identifiers, write.subjectId)
  if (taken.length === 0) return
  const faults = write.identifiers.flatMap((mine, index) =>
    taken.some((t) => t.system === mine.system && t.value === mine.value)
      ? [
          {
            pointer: `#/identifiers/${index}`,
            code: 'identifier_conflict',
            message: 'Another subject has this identifier.',
          },
        ]
      : [],
  )
  throw new AppError('identifier_conflict', { faults })
}
