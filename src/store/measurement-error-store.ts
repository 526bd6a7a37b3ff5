import type { ClinicError } from '../compute/index.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { MeasurementError, Prisma } from './generated/client.ts'

export interface MeasurementErrorRow extends ClinicError {
  readonly id: string
  readonly series: string
  readonly measure: string
  readonly document: unknown
  readonly recordedAt: Date
}

export type MeasurementErrorWrite = MeasurementErrorRow & { readonly recordedBy: string }

export async function insertMeasurementError(tx: ClinicTx, write: MeasurementErrorWrite): Promise<void> {
  await tx.measurementError.create({
    data: { ...write, clinicId: tx.clinicId, document: write.document as Prisma.InputJsonValue },
  })
}

/** As known at an instant, oldest first; null series: all. */
export async function loadMeasurementErrors(
  tx: ClinicTx,
  knownAt: Date,
  series: string | null,
): Promise<MeasurementErrorRow[]> {
  const rows = await tx.measurementError.findMany({
    where: { clinicId: tx.clinicId, recordedAt: { lte: knownAt }, ...(series === null ? {} : { series }) },
    orderBy: [{ recordedAt: 'asc' }, { id: 'asc' }],
  })
  return rows.map((row: MeasurementError) => ({
    ...row,
    scale: row.scale as ClinicError['scale'],
    limbCondition: row.limbCondition as ClinicError['limbCondition'],
  }))
}
