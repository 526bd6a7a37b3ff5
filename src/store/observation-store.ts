/** What a clinician observed in an episode. A later word on the same key and day takes the place of an earlier one. */
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, dateOnly, inForceAt } from './dates.ts'
import type { ClinicianObservation } from './generated/client.ts'

export interface ObservationWrite {
  readonly id: string
  readonly episodeId: string
  readonly subjectId: string
  readonly key: string
  readonly value: string
  /** ISO date. */
  readonly observedOn: string
  readonly note: string | null
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface ObservationRow extends ObservationWrite {
  readonly supersededAt: Date | null
}

/** The caller holds the episode's lock, so that two words on one day can't both stand. */
export async function insertObservation(tx: ClinicTx, write: ObservationWrite): Promise<void> {
  const { episodeId, key } = write
  const observedOn = asDate(write.observedOn)
  await tx.clinicianObservation.updateMany({
    where: { clinicId: tx.clinicId, episodeId, key, observedOn, supersededAt: null },
    data: { supersededAt: write.recordedAt },
  })
  await tx.clinicianObservation.create({ data: { ...write, clinicId: tx.clinicId, observedOn } })
}

/** In force as known at an instant, oldest day first. */
export async function loadObservations(
  tx: ClinicTx,
  episodeIds: readonly string[],
  knownAt: Date,
): Promise<ObservationRow[]> {
  const rows = await tx.clinicianObservation.findMany({
    where: { clinicId: tx.clinicId, episodeId: { in: [...episodeIds] }, ...inForceAt(knownAt) },
    orderBy: [{ observedOn: 'asc' }, { id: 'asc' }],
  })
  return rows.map(toRow)
}

/** Superseded ones too, newest day first. */
export async function loadObservationHistory(tx: ClinicTx, episodeIds: readonly string[]): Promise<ObservationRow[]> {
  const rows = await tx.clinicianObservation.findMany({
    where: { clinicId: tx.clinicId, episodeId: { in: [...episodeIds] } },
    orderBy: [{ observedOn: 'desc' }, { id: 'desc' }],
  })
  return rows.map(toRow)
}

function toRow(row: ClinicianObservation): ObservationRow {
  return { ...row, observedOn: dateOnly(row.observedOn) }
}
