import type { BasisRow, ReportRow } from '../../store/report-store.ts'
import { currencyOf } from './currency.ts'

export type Currencies = ReadonlyMap<string, { affected: boolean; newerTest: boolean }>

/** A report without what it says: what lists show. */
export function summariseReport(row: ReportRow, currencies: Currencies, today: string) {
  const since = currencies.get(row.evaluationId) ?? { affected: false, newerTest: false }
  return {
    id: row.id,
    version: row.version,
    state: row.state,
    episodeId: row.episodeId,
    subjectId: row.subjectId,
    evaluatedOn: row.evaluatedOn,
    expiresOn: row.expiresOn,
    signedAt: row.signedAt.toISOString(),
    signedBy: row.signerId,
    decision: row.decision,
    currency: currencyOf({ ...since, stale: today >= row.expiresOn }),
    reason: row.reason,
    withdrawal:
      row.withdrawnAt === null ? null : { at: row.withdrawnAt.toISOString(), reason: row.withdrawnReason ?? '' },
  }
}

export type ReportSummary = ReturnType<typeof summariseReport>

/** A number followed back: to its result, its setup, its recording and the version of the arithmetic. */
export function representBasis(row: BasisRow) {
  const { id, kind, inForce, sessionId, setKey, setupId, setupKey, recordingSha256, computeVersion } = row
  if (kind === 'observation') return { kind, id, inForce }
  const session = { id: sessionId ?? '', version: row.sessionVersion ?? 0 }
  if (kind === 'functional_result') return { kind, id, inForce, session, links: { session: `/v1/sessions/${sessionId}` } }
  return {
    kind,
    id,
    inForce,
    session,
    set: setKey ?? '',
    setup: { id: setupId ?? '', key: setupKey ?? '' },
    recordingSha256,
    computeVersion: computeVersion ?? '',
    links: {
      result: `/v1/results/${id}`,
      session: `/v1/sessions/${sessionId}`,
      ...(recordingSha256 === null
        ? {}
        : { recording: `/v1/sessions/${sessionId}/sets/${setKey}/recording?version=${session.version}` }),
    },
  }
}
