import { loadFlags } from '../../store/flag-store.ts'
import { loadResultsOfSessions } from '../../store/result-store.ts'
import type { SessionRow } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Trace } from '../perform.ts'
import { representResult, type ResultRepresentation } from './represent-result.ts'

export interface SessionResults {
  readonly sessionId: string
  readonly version: number
  /** In the order performed. */
  readonly items: readonly ResultRepresentation[]
}

/** As many statements for a hundred sessions as for one. */
export async function loadSessionResults(
  tx: ClinicTx,
  trace: Trace,
  sessions: readonly SessionRow[],
  knownAt: Date,
): Promise<readonly SessionResults[]> {
  for (const { subjectId, sessionId } of sessions) {
    trace.subject(subjectId)
    trace.resource('session', sessionId)
  }
  const versions = sessions.map(({ sessionId, version }) => ({ sessionId, sessionVersion: version }))
  const rows = Map.groupBy(await loadResultsOfSessions(tx, versions), (row) => row.sessionId)
  const flags = await loadFlags(tx, { sessionId: { in: sessions.map(({ sessionId }) => sessionId) } }, knownAt)
  return sessions.map(({ sessionId, version }) => ({
    sessionId,
    version,
    items: (rows.get(sessionId) ?? []).map((row) => representResult(row, flags, knownAt)),
  }))
}
