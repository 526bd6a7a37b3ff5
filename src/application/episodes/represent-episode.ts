import type { EpisodeRow } from '../../store/episode-store.ts'

export function representEpisode(row: EpisodeRow) {
  const document = row.document as Record<string, unknown>
  return {
    id: row.id,
    version: row.version,
    subjectId: row.subjectId,
    ...document,
    status: row.status,
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type EpisodeRepresentation = ReturnType<typeof representEpisode>
