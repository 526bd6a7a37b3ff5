import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { Prisma } from './generated/client.ts'

export interface ComparabilityOverridesRow {
  readonly version: number
  readonly document: unknown
  readonly recordedBy: string
  readonly recordedAt: Date
}

/** What the clinic had written down at an instant; null: nothing yet. */
export async function loadComparabilityOverrides(
  tx: ClinicTx,
  knownAt: Date,
): Promise<ComparabilityOverridesRow | null> {
  return tx.comparabilityOverrides.findFirst({
    where: { clinicId: tx.clinicId, recordedAt: { lte: knownAt } },
    orderBy: { version: 'desc' },
  })
}

/** Two edits of one version wait for each other; the second then sees the first. */
export async function lockComparabilityOverrides(tx: ClinicTx): Promise<number> {
  const name = JSON.stringify(['comparability-overrides', tx.clinicId])
  await tx.$queryRaw`select 1 as locked from pg_advisory_xact_lock(hashtextextended(${name}, 0))`
  const newest = await tx.comparabilityOverrides.aggregate({
    where: { clinicId: tx.clinicId },
    _max: { version: true },
  })
  return newest._max.version ?? 0
}

export async function insertComparabilityOverrides(tx: ClinicTx, row: ComparabilityOverridesRow): Promise<void> {
  await tx.comparabilityOverrides.create({
    data: { ...row, clinicId: tx.clinicId, document: row.document as Prisma.InputJsonValue },
  })
}
