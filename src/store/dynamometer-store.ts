import type { RecordReference } from '../domain/reference.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, dateOnly } from './dates.ts'
import type { CalibrationCheck, DynamometerDescription, Prisma } from './generated/client.ts'

export interface DynamometerWrite {
  readonly dynamometerId: string
  readonly version: number
  readonly externalId: { readonly system: string; readonly value: string } | undefined
  readonly document: unknown
  readonly docHash: Uint8Array<ArrayBuffer>
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface DynamometerRow {
  readonly id: string
  readonly version: number
  readonly document: unknown
  readonly docHash: Uint8Array
  readonly recordedAt: Date
}

export interface CalibrationWrite {
  readonly id: string
  readonly dynamometerId: string
  readonly checkedAt: Date
  readonly expectedTorqueNm: number
  readonly readTorqueNm: number
  readonly nextDueOn: string | undefined
  readonly document: unknown
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface CalibrationRow {
  readonly id: string
  readonly dynamometerId: string
  readonly checkedAt: Date
  readonly expectedTorqueNm: number
  readonly readTorqueNm: number
  readonly nextDueOn: string | null
  readonly document: unknown
  readonly recordedAt: Date
}

export async function findDynamometerId(tx: ClinicTx, reference: RecordReference): Promise<string | null> {
  if (reference.id === undefined && reference.externalId === undefined) return null
  const row = await tx.dynamometer.findFirst({
    where: {
      clinicId: tx.clinicId,
      ...(reference.externalId === undefined
        ? { id: reference.id ?? '' }
        : { extSystem: reference.externalId.system, extValue: reference.externalId.value }),
    },
    select: { id: true },
  })
  return row?.id ?? null
}

/** One version of the description; null asks for the newest. Old setups keep theirs. */
export async function loadDescription(
  tx: ClinicTx,
  dynamometerId: string,
  version: number | null,
): Promise<DynamometerRow | null> {
  const row = await tx.dynamometerDescription.findFirst({
    where: { clinicId: tx.clinicId, dynamometerId, ...(version === null ? {} : { version }) },
    orderBy: { version: 'desc' },
  })
  return row === null ? null : toRow(row)
}

export async function listDynamometers(tx: ClinicTx, after: string | null, take: number): Promise<DynamometerRow[]> {
  const rows = await tx.dynamometer.findMany({
    where: { clinicId: tx.clinicId, ...(after === null ? {} : { id: { gt: after } }) },
    include: { descriptions: { orderBy: { version: 'desc' }, take: 1 } },
    orderBy: { id: 'asc' },
    take,
  })
  return rows.flatMap((row) => row.descriptions.map(toRow))
}

export async function lockDynamometerVersion(tx: ClinicTx, id: string): Promise<number | null> {
  const rows = await tx.$queryRaw<{ version: number }[]>`
    select version from dynamometer where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  return rows[0]?.version ?? null
}

export async function insertDynamometer(tx: ClinicTx, write: DynamometerWrite): Promise<void> {
  await tx.dynamometer.create({
    data: {
      clinicId: tx.clinicId,
      id: write.dynamometerId,
      version: write.version,
      extSystem: write.externalId?.system ?? null,
      extValue: write.externalId?.value ?? null,
      createdAt: write.recordedAt,
    },
  })
  await writeDescription(tx, write)
}

export async function reviseDynamometer(tx: ClinicTx, write: DynamometerWrite): Promise<void> {
  await tx.dynamometer.updateMany({
    where: { clinicId: tx.clinicId, id: write.dynamometerId },
    data: { version: write.version },
  })
  await writeDescription(tx, write)
}

async function writeDescription(tx: ClinicTx, write: DynamometerWrite): Promise<void> {
  await tx.dynamometerDescription.create({
    data: {
      clinicId: tx.clinicId,
      dynamometerId: write.dynamometerId,
      version: write.version,
      document: write.document as Prisma.InputJsonValue,
      docHash: write.docHash,
      recordedBy: write.recordedBy,
      recordedAt: write.recordedAt,
    },
  })
}

export async function insertCalibrationCheck(tx: ClinicTx, write: CalibrationWrite): Promise<void> {
  const { nextDueOn, document, ...columns } = write
  await tx.calibrationCheck.create({
    data: {
      ...columns,
      clinicId: tx.clinicId,
      nextDueOn: nextDueOn === undefined ? null : asDate(nextDueOn),
      document: document as Prisma.InputJsonValue,
    },
  })
}

/** Newest first. */
export async function loadCalibrationChecks(
  tx: ClinicTx,
  dynamometerId: string,
  take: number,
): Promise<CalibrationRow[]> {
  const rows = await tx.calibrationCheck.findMany({
    where: { clinicId: tx.clinicId, dynamometerId },
    orderBy: [{ checkedAt: 'desc' }, { id: 'desc' }],
    take,
  })
  return rows.map((row: CalibrationCheck) => ({
    ...row,
    nextDueOn: row.nextDueOn === null ? null : dateOnly(row.nextDueOn),
  }))
}

function toRow(row: DynamometerDescription): DynamometerRow {
  return {
    id: row.dynamometerId,
    version: row.version,
    document: row.document,
    docHash: row.docHash,
    recordedAt: row.recordedAt,
  }
}
