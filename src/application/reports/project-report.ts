/** From an evaluation and a decision to what is signed: the clinic's whole report, and what each level of consent shows of it. */
import type { ConsentLevel, ReportDecision } from '../../domain/report-document.ts'
import type { Readiness } from '../readiness/evaluate-episode.ts'

const REPORT_FORMAT = 'limb-ledger-report/1'

export interface ReportFacts {
  readonly clinic: { readonly id: string; readonly name: string }
  readonly reportId: string
  readonly version: number
  readonly evaluation: { readonly id: string; readonly sha256: string }
  readonly readiness: Readiness
  readonly expiresOn: string
  readonly signedAt: string
  readonly decision: { readonly category: ReportDecision; readonly decidedOn: string; readonly note: string }
  readonly signedBy: { readonly principalId: string; readonly name: string; readonly role: string }
}

/** Who gets a projection under a consent. */
export interface Recipient {
  readonly projectionId: string
  readonly team: { readonly id: string; readonly name: string }
  readonly teamReference: string
  readonly displayName: string
}

/** Everything, the note included: stays in the clinic. Read in this order, the named decision last. */
export function clinicReport(facts: ReportFacts, salt: string) {
  const { expiresOn: _, on, ...readiness } = facts.readiness
  return {
    format: REPORT_FORMAT,
    level: 'clinic' as const,
    clinic: facts.clinic,
    reportId: facts.reportId,
    reportVersion: facts.version,
    evaluation: facts.evaluation,
    evaluatedOn: on,
    expiresOn: facts.expiresOn,
    signedAt: facts.signedAt,
    ...readiness,
    decision: facts.decision,
    signedBy: facts.signedBy,
    salt,
  }
}

export type ClinicReport = ReturnType<typeof clinicReport>

/**
 * What a level shows, named field by field: what is not named here can't leave. The salt keeps the little that a level leaves
 * out from being guessed by trying values against a signature.
 */
export function projectReport(facts: ReportFacts, level: ConsentLevel, salt: string, recipient: Recipient | null) {
  const { readiness } = facts
  const { key, version, citation } = readiness.criteriaSet
  const { category, decidedOn } = facts.decision
  return {
    format: REPORT_FORMAT,
    level,
    clinic: facts.clinic,
    ...(recipient === null ? {} : recipient),
    reportVersion: facts.version,
    evaluatedOn: readiness.on,
    expiresOn: facts.expiresOn,
    signedAt: facts.signedAt,
    criteriaSet: level === 'status' ? { key, version } : { key, version, citation },
    counts: readiness.counts,
    ...(level === 'status' ? {} : { criteria: criteriaAt(level, readiness.criteria) }),
    decision: { category, decidedOn },
    signedBy: { name: facts.signedBy.name, role: facts.signedBy.role },
    notes: TEAM_NOTES,
    salt,
  }
}

export type ProjectedReport = ReturnType<typeof projectReport>

export const TEAM_NOTES = [
  'Criteria met or not met on a date, never a decision to play. Ask the clinician named in the report.',
]

type Criterion = Readiness['criteria'][number]

/** Names and verdicts, or the values as well. */
function criteriaAt(level: ConsentLevel, criteria: readonly Criterion[]): readonly ProjectedCriterion[] {
  return level === 'measures' ? criteria.map(valuesOf) : criteria.map(verdictOf)
}

export type ProjectedCriterion = ReturnType<typeof verdictOf> | ReturnType<typeof valuesOf>

const verdictOf = ({ key, verdict }: Criterion) => ({ key, verdict })

function valuesOf({ key, verdict, comparator, threshold, observed, intervalSpansThreshold }: Criterion) {
  return { key, verdict, comparator, threshold, observed, intervalSpansThreshold }
}

/** Back from a clinic's report, for a team that is let in after it was signed. */
export function factsOf(report: ClinicReport): ReportFacts {
  const { format: _, level: __, salt: ___, reportVersion, evaluatedOn, ...rest } = report
  const { clinic, reportId, evaluation, expiresOn, signedAt, decision, signedBy, ...readiness } = rest
  return {
    clinic,
    reportId,
    version: reportVersion,
    evaluation,
    readiness: { ...readiness, on: evaluatedOn, expiresOn },
    expiresOn,
    signedAt,
    decision,
    signedBy,
  }
}
