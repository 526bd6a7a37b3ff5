import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { Prisma } from './generated/client.ts'

export interface RecordingWrite {
  readonly sha256: Uint8Array<ArrayBuffer>
  readonly header: unknown
  readonly bytes: Uint8Array<ArrayBuffer>
  readonly sampleCount: number
  readonly sampleRateHz: number
}

export interface RecordingRow {
  readonly header: unknown
  readonly bytes: Uint8Array
}

/** The same samples under the same header are stored once a clinic. In one order, as comparability keys are. */
export async function insertRecordings(tx: ClinicTx, recordings: readonly RecordingWrite[]): Promise<void> {
  if (recordings.length === 0) return
  const writes = recordings.toSorted((a, b) => Buffer.compare(a.sha256, b.sha256))
  const { clinicId } = tx
  await tx.recording.createMany({
    data: writes.map(({ bytes: _bytes, header, ...row }) => ({
      ...row,
      clinicId,
      header: header as Prisma.InputJsonValue,
    })),
    skipDuplicates: true,
  })
  await tx.recordingBlob.createMany({
    data: writes.map(({ sha256, bytes }) => ({ clinicId, sha256, bytes })),
    skipDuplicates: true,
  })
}

export async function loadRecording(tx: ClinicTx, sha256: Uint8Array<ArrayBuffer>): Promise<RecordingRow | null> {
  const row = await tx.recording.findUnique({
    where: { clinicId_sha256: { clinicId: tx.clinicId, sha256 } },
    include: { blob: true },
  })
  return row === null || row.blob === null ? null : { header: row.header, bytes: row.blob.bytes }
}
