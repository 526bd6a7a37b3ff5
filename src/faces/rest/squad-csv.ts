import type { Squad } from '../../application/sharing/read-squad.ts'
import type { ProjectedCriterion } from '../../application/reports/project-report.ts'
import type { TeamRow } from '../../application/sharing/team-rows.ts'
import { toCsv, type CsvCell } from './csv.ts'

const HEADER = [
  'teamReference', 'displayName', 'level', 'source', 'evaluatedOn', 'expiresOn', 'currency', 'criteriaSet', 'criteriaSetVersion',
  'met', 'notMet', 'notAssessable', 'criteria', 'decision', 'decidedOn', 'consentUntil', 'reportId', 'reportVersion',
] as const // prettier-ignore

/** One line a reference. What a level does not show is an empty cell. */
export const squadCsv = (squad: Squad): string => toCsv(HEADER, squad.rows.map(cellsOf))

function cellsOf(row: TeamRow): CsvCell[] {
  const { criteriaSet, counts, decision } = row
  return [
    row.teamReference, row.displayName, row.level, row.source.clinicName, row.evaluatedOn, row.expiresOn, row.currency,
    criteriaSet.key, criteriaSet.version, counts.met, counts.notMet, counts.notAssessable, criteriaInWords(row),
    decision.category, decision.decidedOn, row.consentUntil, row.reportId, row.reportVersion,
  ] // prettier-ignore
}

/** "single-hop met 93.67 % > 90 %; kos-adls not_assessable" */
const criteriaInWords = ({ criteria = [] }: TeamRow): string => criteria.map(inWords).join('; ')

function inWords(criterion: ProjectedCriterion): string {
  const verdict = `${criterion.key} ${criterion.verdict}`
  if (!('comparator' in criterion)) return verdict
  return `${verdict} ${quantity(criterion.observed)} ${criterion.comparator} ${quantity(criterion.threshold)}`
}

function quantity(value: { readonly value: number; readonly unit: string } | string | null): string {
  if (value === null) return 'none'
  return typeof value === 'string' ? value : `${value.value} ${value.unit}`
}
