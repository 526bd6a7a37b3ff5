/** One report as a team sees it: what was signed for this consent, and what has become of it since. */
import type { ReportCurrency } from '../../domain/report-document.ts'
import {
  loadSharedReports,
  loadTeamConsents,
  loadTeamCurrencies,
  type SharedReportRow,
  type TeamConsentRow,
} from '../../store/team-store.ts'
import type { TeamTx } from '../../tenancy/with-team.ts'
import { currencyOf } from '../reports/currency.ts'
import type { ProjectedReport } from '../reports/project-report.ts'
import type { Disclosures } from './perform-for-team.ts'

export interface TeamRecord {
  readonly consent: TeamConsentRow
  readonly shared: SharedReportRow
  readonly currency: ReportCurrency
}

export interface TeamView {
  readonly consents: readonly TeamConsentRow[]
  readonly records: readonly TeamRecord[]
}

/** `ids`: of what to look at; null for all that is there. */
export async function loadTeamView(tx: TeamTx, now: Date, ids: readonly string[] | null): Promise<TeamView> {
  const consents = await loadTeamConsents(tx)
  const byId = new Map(consents.map((consent) => [consent.id, consent]))
  const shared = await loadSharedReports(tx, ids)
  const clinics = [...new Set(shared.map(({ clinicId }) => clinicId))]
  const currencies = await loadTeamCurrencies(tx, clinics)
  const records = shared.flatMap((row) => {
    const consent = byId.get(row.consentId)
    const since = currencies.get(row.id)
    // Revoked between two statements of ours: gone.
    if (consent === undefined || since === undefined) return []
    return [{ consent, shared: row, currency: currencyOf({ ...since, stale: now >= row.expiresAt }) }]
  })
  return { consents, records }
}

export function teamRow({ consent, shared, currency }: TeamRecord) {
  const report = shared.body as ProjectedReport
  return {
    teamReference: consent.teamReference,
    displayName: consent.displayName,
    level: consent.level,
    consentUntil: consent.untilOn,
    reportId: shared.id,
    reportVersion: shared.reportVersion,
    source: { clinicName: report.clinic.name },
    evaluatedOn: report.evaluatedOn,
    expiresOn: report.expiresOn,
    currency,
    criteriaSet: report.criteriaSet,
    counts: report.counts,
    ...(report.criteria === undefined ? {} : { criteria: report.criteria }),
    decision: report.decision,
  }
}

export type TeamRow = ReturnType<typeof teamRow>

/** Every clinic that was looked at, with what of it was shown. */
export function disclosuresOf(consents: readonly TeamConsentRow[], shown: readonly TeamRecord[]): Disclosures {
  const clinics = new Map<string, string[]>(consents.map(({ clinicId }) => [clinicId, []]))
  for (const { shared } of shown) clinics.get(shared.clinicId)?.push(shared.id)
  return Object.fromEntries(clinics)
}
