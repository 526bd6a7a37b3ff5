import type { SessionRow } from '../../store/session-store.ts'

const STATE_OF = { pushed: 'final', amended: 'amended', entered_in_error: 'entered_in_error' } as const

export function representSessionRow(row: SessionRow, sinceSurgery: { value: number; unit: string } | null) {
  return {
    id: row.sessionId,
    version: row.version,
    state: STATE_OF[row.kind],
    externalId: row.externalId,
    subjectId: row.subjectId,
    episodeId: row.episodeId,
    dynamometerId: row.dynamometerId,
    descriptionVersion: row.descriptionVersion,
    startedAt: row.startedAt,
    sinceSurgery,
    recordedAt: row.recordedAt.toISOString(),
  }
}
