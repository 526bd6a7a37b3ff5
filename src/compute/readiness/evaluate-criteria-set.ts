import type { ComparabilityVerdict } from '../comparability/index.ts'
import { dateOfDay, dayNumber } from './calendar.ts'
import { isAtThreshold, meetsThreshold } from './compare-threshold.ts'
import type { Comparator, CriteriaSet, Criterion, Threshold } from './criteria-set.ts'
import type { Evidence, EvaluationContext, EvidenceInterval } from './evidence.ts'
import { findEvidence } from './find-evidence.ts'
import type { EvidenceReference, Finding, NumberOrReason } from './find-evidence.ts'
import { checkCriteriaSet } from './check-criteria-set.ts'
import { matchPopulation } from './match-population.ts'
import type { PopulationMatch } from './match-population.ts'
import { whatToAssess } from './what-to-assess.ts'

export type CriterionVerdict = 'met' | 'not_met' | 'not_assessable'

export interface CriterionAnswer {
  readonly key: string
  readonly verdict: CriterionVerdict
  /** Why it is not assessable; null otherwise. */
  readonly reason: string | null
  readonly measure: string
  readonly comparator: Comparator | 'is'
  /** The threshold that was applied; null where it depends on a sex that is not known. */
  readonly threshold: Threshold | string | null
  readonly observed:
    { readonly value: number; readonly unit: string; readonly interval: EvidenceInterval | null } | string | null
  /** How far an unmet value is from the threshold, never negative; null otherwise. */
  readonly distance: Threshold | null
  /** null where no interval is known. */
  readonly intervalSpansThreshold: boolean | null
  readonly age: { readonly value: number; readonly unit: 'd' } | null
  readonly comparability: ComparabilityVerdict | null
  readonly evidence: readonly EvidenceReference[]
  readonly beside: { readonly estimatedPreInjuryCapacity: NumberOrReason } | null
  /** Code words: other_limb_has_history, other_limb_gave_graft, other_limb_history_unknown. */
  readonly notes: readonly string[]
}

/** `required_criteria_met` is the positive word of a set that asks for some of its criteria only. */
export type OverallVerdict = 'all_criteria_met' | 'required_criteria_met' | 'criteria_not_met' | 'not_assessable'

export interface CriteriaSetAnswer {
  readonly on: string
  readonly criteriaSet: { readonly key: string; readonly version: number; readonly citation: string }
  readonly population: PopulationMatch
  readonly overall: OverallVerdict
  readonly counts: { readonly met: number; readonly notMet: number; readonly notAssessable: number }
  /** In the order of the set. */
  readonly criteria: readonly CriterionAnswer[]
  readonly toAssess: readonly { readonly criterion: string; readonly needs: string }[]
  readonly sinceSurgery: { readonly value: number; readonly unit: 'wk' } | null
  /** First date on which some evidence used here is older than its criterion allows; null where nothing ages. */
  readonly expiresOn: string | null
  readonly notes: readonly string[]
}

/**
 * Evaluation of a criteria set: what published or local criteria say about one episode on one date.
 *
 * What for: to put results beside criteria, with their evidence and gaps. It states criteria and decides nothing.
 *
 * Conventions: each criterion is met, not_met or not_assessable. The latest attempted evidence up to and including `on` governs; an
 * attempt that failed, was held or hurt is not replaced by an older one. Missing, stale, not comparable, pain above 3/10 and doubt
 * about a unit give not_assessable, never met. Nothing is rounded before comparing. Symmetry is 100 x involved / uninvolved (times
 * turned round), not clipped at 100. Where a criterion leaves its test open, the least favourable test of the latest session governs.
 * Age is counted in calendar days between the dates as written; evidence of exactly the maximum age still counts.
 *
 * Rule: all - any not met gives criteria_not_met, else any not assessable gives not_assessable, else all_criteria_met.
 * at least n - met >= n gives required_criteria_met; met + not assessable < n gives criteria_not_met; else not_assessable.
 *
 * Errors: RangeError for a criteria set that contradicts itself (see checkCriteriaSet) or a date that is none; bad evidence is a
 * reason in the answer.
 * Source: of each set, its citation. Limits: a population that does not match is said, and changes no verdict. Meeting criteria
 * has not been shown to predict a second injury reliably (Welling 2020 Knee 27:949-57). Do not use it as a decision.
 * Units: those of the criteria.
 *
 * @example evaluateCriteriaSet(kyritsis2016, evidence, context).counts // { met: 4, notMet: 1, notAssessable: 1 }
 */
export function evaluateCriteriaSet(
  set: CriteriaSet,
  evidence: Evidence,
  context: EvaluationContext,
): CriteriaSetAnswer {
  checkCriteriaSet(set)
  const today = dayNumber(context.on)
  const assessed = set.criteria.map((criterion) => assess(criterion, evidence, context, today))
  const criteria = assessed.map(({ answer }) => answer)
  const count = (verdict: CriterionVerdict): number => criteria.filter((answer) => answer.verdict === verdict).length
  const counts = { met: count('met'), notMet: count('not_met'), notAssessable: count('not_assessable') }
  const endings = assessed.map(({ lastDay }) => lastDay).filter((day) => day !== null)
  const weeks = context.surgeryOn === null ? null : (today - dayNumber(context.surgeryOn)) / 7
  return {
    on: context.on,
    criteriaSet: { key: set.key, version: set.version, citation: set.citation },
    population: matchPopulation(set.population, context),
    overall: overallOf(set, counts),
    counts,
    criteria,
    toAssess: set.criteria.flatMap((criterion, i) => {
      const answer = criteria[i]
      return answer?.verdict === 'not_assessable'
        ? [{ criterion: criterion.key, needs: whatToAssess(criterion, answer.reason ?? 'missing') }]
        : []
    }),
    sinceSurgery: weeks === null || weeks < 0 ? null : { value: weeks, unit: 'wk' },
    expiresOn: endings.length === 0 ? null : dateOfDay(Math.min(...endings) + 1),
    notes: ["States criteria on a date. The decision is a licensed clinician's; local protocol comes first."],
  }
}

/**
 * Reading order of the answers: not assessable first, then not met, then met within error, then met, so that a gap is seen first.
 *
 * What for: a list that cannot be skimmed to a green line. Units: none. Errors: none. Source: engineering choice, no
 * source.
 * Limits: an order to read in, no ranking.
 *
 * @example inReadingOrder(answer.criteria).map((criterion) => criterion.key)
 */
export function inReadingOrder(criteria: readonly CriterionAnswer[]): readonly CriterionAnswer[] {
  const place = (answer: CriterionAnswer): number =>
    answer.verdict === 'not_assessable'
      ? 0
      : answer.verdict === 'not_met'
        ? 1
        : answer.intervalSpansThreshold === true
          ? 2
          : 3
  return criteria.slice().sort((a, b) => place(a) - place(b))
}

interface Assessed {
  readonly answer: CriterionAnswer
  /** Last day on which the evidence used still counts; null where it does not age or does not count. */
  readonly lastDay: number | null
  /** How far on the met side, for choosing the least favourable of several tests. */
  readonly margin: number
}

/** Several candidates: the least favourable governs, so that a further test can never improve an answer by itself. */
function assess(criterion: Criterion, evidence: Evidence, context: EvaluationContext, today: number): Assessed {
  const order: readonly CriterionVerdict[] = ['not_met', 'not_assessable', 'met']
  const candidates = findEvidence(criterion, evidence, context)
    .map((found) => judge(criterion, found, context, today))
    .sort(
      (a, b) =>
        order.indexOf(a.answer.verdict) - order.indexOf(b.answer.verdict) ||
        a.margin - b.margin ||
        // the same whatever order the evidence came in
        (JSON.stringify(a.answer) < JSON.stringify(b.answer) ? -1 : 1),
    )
  const governing = candidates[0]
  if (governing === undefined) throw new RangeError(`criterion ${criterion.key} has no finding`)
  return governing
}

function judge(criterion: Criterion, found: Finding, context: EvaluationContext, today: number): Assessed {
  const age = found.day === null ? null : today - found.day
  const stale = criterion.maximumAgeDays !== null && age !== null && age > criterion.maximumAgeDays
  const threshold = thresholdFor(criterion, context)
  const base = {
    key: criterion.key,
    measure: criterion.measure,
    comparator: criterion.comparator,
    threshold,
    observed: observedOf(found, threshold),
    distance: null,
    intervalSpansThreshold: null,
    age: age === null ? null : { value: age, unit: 'd' as const },
    comparability: found.comparability,
    evidence: found.evidence,
    beside: found.beside,
    notes: limbNotes(criterion, context),
  }
  const reason =
    found.reason ?? (found.value === null ? 'missing' : stale ? 'stale' : threshold === null ? 'sex_unknown' : null)
  if (reason !== null || found.value === null || threshold === null) {
    const answer: CriterionAnswer = { ...base, verdict: 'not_assessable', reason: reason ?? 'missing' }
    return { answer, lastDay: null, margin: 0 }
  }
  const lastDay = criterion.maximumAgeDays === null || found.day === null ? null : found.day + criterion.maximumAgeDays
  if (criterion.kind === 'clinician_observation' || typeof threshold === 'string' || typeof found.value === 'string') {
    const met = found.value === threshold
    return { answer: { ...base, verdict: met ? 'met' : 'not_met', reason: null }, lastDay, margin: 0 }
  }
  const met = meetsThreshold(found.value, criterion.comparator, threshold.value)
  const distance = isAtThreshold(found.value, threshold.value) ? 0 : Math.abs(found.value - threshold.value)
  const { interval } = found
  const answer: CriterionAnswer = {
    ...base,
    verdict: met ? 'met' : 'not_met',
    reason: null,
    distance: met ? null : { value: distance, unit: threshold.unit },
    intervalSpansThreshold:
      interval === null ? null : interval.low <= threshold.value && threshold.value <= interval.high,
  }
  return { answer, lastDay, margin: met ? distance : -distance }
}

function thresholdFor(criterion: Criterion, context: EvaluationContext): Threshold | string | null {
  if (criterion.kind === 'clinician_observation') return criterion.threshold
  if (!('bySex' in criterion.threshold)) return criterion.threshold
  return context.sex === null ? null : criterion.threshold.bySex[context.sex]
}

function observedOf(found: Finding, threshold: Threshold | string | null): CriterionAnswer['observed'] {
  if (typeof found.value !== 'number' || found.unit === null)
    return typeof found.value === 'string' ? found.value : null
  const at = threshold !== null && typeof threshold !== 'string' && isAtThreshold(found.value, threshold.value)
  return { value: at ? threshold.value : found.value, unit: found.unit, interval: found.interval }
}

function limbNotes(criterion: Criterion, context: EvaluationContext): readonly string[] {
  if (criterion.kind !== 'strength_symmetry' && criterion.kind !== 'functional_symmetry') return []
  switch (context.otherLimb) {
    case 'no_history':
      return []
    case 'history':
      return ['other_limb_has_history']
    case 'graft_donor':
      return ['other_limb_gave_graft']
    case 'unknown':
      return ['other_limb_history_unknown']
  }
}

function overallOf(set: CriteriaSet, counts: CriteriaSetAnswer['counts']): OverallVerdict {
  if (set.rule.kind === 'all') {
    if (counts.notMet > 0) return 'criteria_not_met'
    return counts.notAssessable > 0 ? 'not_assessable' : 'all_criteria_met'
  }
  if (counts.met >= set.rule.count) return 'required_criteria_met'
  return counts.met + counts.notAssessable < set.rule.count ? 'criteria_not_met' : 'not_assessable'
}
