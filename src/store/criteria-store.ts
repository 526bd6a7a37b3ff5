/** A clinic's own criteria sets: versions are added and retired, never changed. */
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { Prisma } from './generated/client.ts'

export interface CriteriaSetWrite {
  readonly key: string
  readonly version: number
  readonly document: unknown
  /** Of the words without their version: the same words again make no new one. */
  readonly docHash: Uint8Array<ArrayBuffer>
  readonly recordedBy: string
  readonly recordedAt: Date
}

/** Every version of the clinic's own sets of these keys, newest first. */
export async function loadCriteriaSets(
  tx: ClinicTx,
  keys: readonly string[],
): Promise<{ key: string; version: number; document: unknown; retiredAt: Date | null }[]> {
  return tx.criteriaSet.findMany({
    where: { clinicId: tx.clinicId, key: { in: [...keys] } },
    orderBy: { version: 'desc' },
    select: { key: true, version: true, document: true, retiredAt: true },
  })
}

/** The clinic's own sets that are not retired, each in its newest version. */
export async function listCriteriaSets(tx: ClinicTx): Promise<unknown[]> {
  const rows = await tx.criteriaSet.findMany({
    where: { clinicId: tx.clinicId, retiredAt: null },
    orderBy: [{ key: 'asc' }, { version: 'desc' }],
    distinct: ['key'],
  })
  return rows.map((row) => row.document)
}

/** Two writers of one key wait for each other, so that the second sees the version of the first. */
export async function lockCriteriaSetKey(tx: ClinicTx, key: string): Promise<void> {
  const name = JSON.stringify(['criteria-set', tx.clinicId, key])
  await tx.$queryRaw`select 1 as locked from pg_advisory_xact_lock(hashtextextended(${name}, 0))`
}

/** The newest version of a key, retired or not. */
export async function newestCriteriaSet(
  tx: ClinicTx,
  key: string,
): Promise<{ version: number; document: unknown; docHash: Uint8Array; retiredAt: Date | null } | null> {
  return tx.criteriaSet.findFirst({
    where: { clinicId: tx.clinicId, key },
    orderBy: { version: 'desc' },
    select: { version: true, document: true, docHash: true, retiredAt: true },
  })
}

export async function insertCriteriaSet(tx: ClinicTx, write: CriteriaSetWrite): Promise<void> {
  await tx.criteriaSet.create({
    data: { ...write, clinicId: tx.clinicId, document: write.document as Prisma.InputJsonValue },
  })
}

/** All versions of a key at once; false: there is none that is not retired already. */
export async function retireCriteriaSet(
  tx: ClinicTx,
  key: string,
  retirement: { retiredAt: Date; retiredBy: string; retiredReason: string },
): Promise<boolean> {
  const { count } = await tx.criteriaSet.updateMany({
    where: { clinicId: tx.clinicId, key, retiredAt: null },
    data: retirement,
  })
  return count > 0
}
