import type { ClinicTx } from '../tenancy/with-clinic.ts'

export interface WrappedKey {
  readonly subjectId: string
  readonly kekId: string
  readonly wrappedKey: Uint8Array
}

/** Keeps `made` unless the subject has a key already; answers the one it has. Null: there is no such subject (any more). */
export async function keepSubjectKey(tx: ClinicTx, made: WrappedKey): Promise<WrappedKey | null> {
  await tx.$executeRaw`
    insert into subject_key (clinic_id, subject_id, kek_id, wrapped_key)
    select clinic_id, id, ${made.kekId}, ${made.wrappedKey}
    from subject where clinic_id = ${tx.clinicId}::uuid and id = ${made.subjectId}::uuid
    on conflict do nothing`
  const [kept] = await loadSubjectKeys(tx, [made.subjectId])
  return kept ?? null
}

export async function loadSubjectKeys(tx: ClinicTx, subjectIds: readonly string[]): Promise<WrappedKey[]> {
  return tx.subjectKey.findMany({
    where: { clinicId: tx.clinicId, subjectId: { in: [...subjectIds] } },
    select: { subjectId: true, kekId: true, wrappedKey: true },
  })
}
