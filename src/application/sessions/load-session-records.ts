import { loadFlags, type FlagRow } from '../../store/flag-store.ts'
import { loadResultsOfSessions, type JudgedResultRow } from '../../store/result-store.ts'
import { loadSessions, loadSetups, type SessionRow, type SetupWrite } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import { loadHistories, type History } from '../judgement/history.ts'

/** A session in force with all that it is described from. */
export interface SessionRecord {
  readonly session: SessionRow
  readonly setups: readonly SetupWrite[]
  readonly results: readonly JudgedResultRow[]
  readonly flags: readonly FlagRow[]
  /** Of its subject, with the session's episode. */
  readonly history: History
}

/** Of the sessions that there are, in no order. As many statements for a hundred as for one. */
export async function loadSessionRecords(
  tx: ClinicTx,
  sessionIds: readonly string[],
  knownAt: Date,
): Promise<readonly SessionRecord[]> {
  const sessions = await loadSessions(tx, sessionIds)
  const versions = sessions.map(({ sessionId, version }) => ({ sessionId, sessionVersion: version }))
  const setups = Map.groupBy(await loadSetups(tx, versions), (row) => row.sessionId)
  const results = Map.groupBy(await loadResultsOfSessions(tx, versions), (row) => row.sessionId)
  const flags = Map.groupBy(
    await loadFlags(tx, { sessionId: { in: [...sessionIds] } }, knownAt),
    (row) => row.sessionId,
  )
  const asks = sessions.map(({ sessionId, subjectId, episodeId }) => ({
    subjectId,
    episodeId,
    joint: setups.get(sessionId)?.[0]?.joint ?? '',
  }))
  const histories = await loadHistories(tx, asks, { knownAt })
  return sessions.flatMap((session, index) => {
    const history = histories[index] ?? null
    if (history === null) return []
    const of = <T>(rows: ReadonlyMap<string, readonly T[]>) => rows.get(session.sessionId) ?? []
    return { session, setups: of(setups), results: of(results), flags: of(flags), history }
  })
}
