import type { ClinicError } from '../compute/index.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { Prisma } from './generated/client.ts'

export interface MeasurementErrorRow extends ClinicError {
  readonly id: string
  readonly series: string
  readonly measure: string
  /** Whose tests; null: of every operator, of every machine. */
  readonly operatorId: string | null
  readonly dynamometerId: string | null
  readonly recordedAt: Date
}

export interface MeasurementErrorWrite extends MeasurementErrorRow {
  readonly document: MeasurementErrorRecord
  readonly recordedBy: string
}

/** The pairs as written, and all that was estimated from them with which version. */
export interface MeasurementErrorRecord {
  readonly pairs: unknown
  readonly estimate: unknown
  readonly computeVersion: string
}

export interface MeasurementErrorEntry extends MeasurementErrorRow {
  readonly estimate: unknown
  readonly computeVersion: string
  readonly recordedBy: string
}

export async function insertMeasurementError(tx: ClinicTx, write: MeasurementErrorWrite): Promise<void> {
  await tx.measurementError.create({
    data: { ...write, clinicId: tx.clinicId, document: write.document as unknown as Prisma.InputJsonValue },
  })
}

/** What a decision asks for, as known at an instant, oldest first; null series: all. */
export async function loadMeasurementErrors(
  tx: ClinicTx,
  knownAt: Date,
  series: string | null,
): Promise<MeasurementErrorRow[]> {
  const rows = await tx.measurementError.findMany({
    where: { clinicId: tx.clinicId, recordedAt: { lte: knownAt }, ...(series === null ? {} : { series }) },
    omit: { document: true },
    orderBy: [{ recordedAt: 'asc' }, { id: 'asc' }],
  })
  return rows.map((row) => ({
    ...row,
    scale: row.scale as ClinicError['scale'],
    limbCondition: row.limbCondition as ClinicError['limbCondition'],
  }))
}

/** Without their pairs, of which there may be a thousand. */
export async function listMeasurementErrors(
  tx: ClinicTx,
  after: string | null,
  take: number,
): Promise<MeasurementErrorEntry[]> {
  return tx.$queryRaw<MeasurementErrorEntry[]>`
    select id, series, measure, scale, sem, degrees_of_freedom as "degreesOfFreedom", pairs,
           mean_shift_detected as "meanShiftDetected", limb_condition as "limbCondition", source,
           operator_id as "operatorId", dynamometer_id as "dynamometerId",
           recorded_at as "recordedAt", recorded_by as "recordedBy",
           document -> 'estimate' as estimate, document ->> 'computeVersion' as "computeVersion"
    from measurement_error
    where clinic_id = ${tx.clinicId}::uuid and (${after}::uuid is null or id > ${after}::uuid)
    order by id limit ${take}`
}
