import type { ObservationRow } from '../../store/observation-store.ts'

export function representObservation(row: ObservationRow) {
  return {
    id: row.id,
    episodeId: row.episodeId,
    key: row.key,
    value: row.value,
    observedOn: row.observedOn,
    ...(row.note === null ? {} : { note: row.note }),
    state: row.supersededAt === null ? ('final' as const) : ('superseded' as const),
    recordedBy: row.recordedBy,
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type ObservationRepresentation = ReturnType<typeof representObservation>
