import type { SessionHeadRow } from '../../store/session-store.ts'

/** What lists show of a session. */
export function summariseSession(row: SessionHeadRow) {
  return {
    id: row.id,
    version: row.version,
    state: row.status,
    subjectId: row.subjectId,
    episodeId: row.episodeId,
    testedAt: row.testedAt.toISOString(),
  }
}

export type SessionSummary = ReturnType<typeof summariseSession>
