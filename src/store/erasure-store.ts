import type { ClinicTx } from '../tenancy/with-clinic.ts'

export interface ErasureWrite {
  readonly subjectId: string
  readonly ground: string
  readonly erasedBy: string
  readonly erasedAt: Date
}

export type ErasureOutcome =
  { readonly outcome: 'erased'; readonly rows: Readonly<Record<string, number>> } | { readonly outcome: 'not_found' }

/** One person's rows over years are many: longer than a request may otherwise take, shorter than its transaction. */
const ERASURE_LIMIT = '8s'

/** Everything kept about one subject, or nothing: the one function of the database that may remove it. */
export async function eraseSubject(tx: ClinicTx, write: ErasureWrite): Promise<ErasureOutcome> {
  await tx.$queryRaw`select set_config('statement_timeout', ${ERASURE_LIMIT}, true)`
  const answers = await tx.$queryRaw<{ rows: Record<string, number> | null }[]>`
    select erase_subject(${write.subjectId}::uuid, ${write.ground}, ${write.erasedBy}::uuid, ${write.erasedAt}) as rows`
  const rows = answers[0]?.rows ?? null
  return rows === null ? { outcome: 'not_found' } : { outcome: 'erased', rows }
}

export interface LegalHoldRow {
  readonly id: string
  readonly subjectId: string
  readonly reason: string
  readonly placedBy: string
  readonly placedAt: Date
  readonly releasedBy: string | null
  readonly releasedAt: Date | null
  readonly releasedReason: string | null
}

export async function insertLegalHold(
  tx: ClinicTx,
  hold: Pick<LegalHoldRow, 'id' | 'subjectId' | 'reason' | 'placedBy' | 'placedAt'>,
): Promise<void> {
  await tx.legalHold.create({ data: { ...hold, clinicId: tx.clinicId } })
}

export async function listLegalHolds(tx: ClinicTx, subjectId: string): Promise<LegalHoldRow[]> {
  return tx.legalHold.findMany({ where: { clinicId: tx.clinicId, subjectId }, orderBy: { id: 'asc' } })
}

/** Locked until the transaction ends, so that a hold is released once. */
export async function lockLegalHold(tx: ClinicTx, id: string): Promise<LegalHoldRow | null> {
  await tx.$queryRaw`
    select 1 as found from legal_hold where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  return tx.legalHold.findUnique({ where: { clinicId_id: { clinicId: tx.clinicId, id } } })
}

export async function releaseLegalHold(
  tx: ClinicTx,
  id: string,
  release: { releasedBy: string; releasedAt: Date; releasedReason: string },
): Promise<void> {
  await tx.legalHold.updateMany({ where: { clinicId: tx.clinicId, id }, data: release })
}
