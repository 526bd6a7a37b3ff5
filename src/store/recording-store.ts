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

export interface StoredRow extends RecordingRow {
  /** Hex. */
  readonly sha256: string
}

/** Those of them that are here, in two statements; null, and no bytes read, where they have more than `most` numbers. */
export async function loadRecordings(
  tx: ClinicTx,
  sha256s: readonly string[],
  most: number,
): Promise<readonly StoredRow[] | null> {
  const hashes = sha256s.map((sha256) => new Uint8Array(Buffer.from(sha256, 'hex')))
  const where = { clinicId: tx.clinicId, sha256: { in: hashes } }
  const rows = await tx.recording.findMany({ where, orderBy: { sha256: 'asc' } })
  const numbers = rows.map(({ sampleCount, header }) => sampleCount * channelsOf(header))
  if (numbers.reduce((sum, each) => sum + each, 0) > most) return null
  const blobs = await tx.recordingBlob.findMany({ where })
  const bytesOf = new Map(blobs.map(({ sha256, bytes }) => [Buffer.from(sha256).toString('hex'), bytes]))
  return rows.flatMap(({ sha256, header }) => {
    const hex = Buffer.from(sha256).toString('hex')
    const bytes = bytesOf.get(hex)
    return bytes === undefined ? [] : [{ sha256: hex, header, bytes }]
  })
}

const channelsOf = (header: unknown): number => (header as { channels: readonly unknown[] }).channels.length

export async function loadRecording(tx: ClinicTx, sha256: Uint8Array<ArrayBuffer>): Promise<RecordingRow | null> {
  const row = await tx.recording.findUnique({
    where: { clinicId_sha256: { clinicId: tx.clinicId, sha256 } },
    include: { blob: true },
  })
  return row === null || row.blob === null ? null : { header: row.header, bytes: row.blob.bytes }
}
