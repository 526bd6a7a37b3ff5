/** From stored results to what a criteria evaluation may look at: every attempt, also the ones without a value. */
import type {
  Criterion,
  Evidence,
  EvaluationContext,
  FunctionalEvidence,
  LimbValue,
  ObservationEvidence,
  Outcome,
  PreInjuryReference,
  QuestionnaireEvidence,
  Side,
  StrengthEvidence,
  StrengthSeries,
} from '../../compute/index.ts'
import { FUNCTIONAL_TEST_BY_CODE } from '../../domain/code-lists.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import type { ObservationRow } from '../../store/observation-store.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import type { FunctionalResultRow } from '../../store/session-store.ts'
import { DEFAULT_CONFIDENCE } from '../judgement/error-model.ts'
import type { KeyFacts, VisitFacts } from '../judgement/facts.ts'
import { holdOn, type History } from '../judgement/history.ts'
import { judgePairs, type JudgedPair } from '../judgement/limb-pairs.ts'
import { otherLimb, testedPerson } from '../judgement/person.ts'
import { readMeasure } from '../results/measures-document.ts'

export interface ReadinessRecord extends History {
  readonly functionalResults: readonly FunctionalResultRow[]
  readonly observations: readonly ObservationRow[]
}

export function evaluationContext(record: ReadinessRecord, on: string): EvaluationContext {
  const { episode, subject } = record
  const { birthDate, level } = subject.document as { birthDate?: string; level?: string }
  const side = episode?.involvedSide ?? 'none'
  const person = testedPerson({ sex: subject.sex, birthDate: birthDate ?? null }, episode, 'left', on)
  return {
    on,
    involvedSide: side === 'none' ? null : side,
    otherLimb: episode === null ? 'unknown' : otherLimbWord(otherLimb(episode)),
    sex: subject.sex === 'unknown' ? null : subject.sex,
    ageYears: person.ageYears,
    sportLevel: level ?? null,
    surgeryOn: episode?.surgeryOn ?? null,
  }
}

function otherLimbWord(limb: ReturnType<typeof otherLimb>): EvaluationContext['otherLimb'] {
  if (limb.gaveGraft === 'yes') return 'graft_donor'
  if (limb.history === 'none') return limb.gaveGraft === 'unknown' ? 'unknown' : 'no_history'
  return limb.history === 'unknown' ? 'unknown' : 'history'
}

export function collectEvidence(record: ReadinessRecord, criteria: readonly Criterion[]): Evidence {
  const asked = askedSeries(criteria)
  const joint = record.episode?.joint ?? ''
  const keys = [...new Set(record.results.map((row) => row.series))].filter(
    (key) => parseSeriesKey(key).joint === joint,
  )
  const strength: StrengthEvidence[] = []
  const preInjury: PreInjuryReference[] = []
  for (const { measure, statistic } of asked) {
    for (const key of keys) {
      const rows = record.results.filter((row) => row.series === key)
      const pairs = judgePairs(record, rows, { measure, statistic, confidence: DEFAULT_CONFIDENCE })
      strength.push(...pairs.map((pair) => strengthOf(record, key, pair, measure, statistic)))
      const latest = pairs.at(-1)
      if (latest !== undefined) preInjury.push(...preInjuryOf(record, key, latest, measure, statistic))
    }
  }
  return {
    strength,
    functional: record.functionalResults.flatMap((row) => functionalOf(record, row)),
    questionnaires: record.functionalResults.flatMap((row) => questionnaireOf(record, row)),
    observations: [...record.observations.map(observationOf), ...record.functionalResults.flatMap(observedInSession)],
    preInjury: [...preInjury, ...functionalPreInjury(record)],
  }
}

/** Which measures the set asks of strength tests: each once. */
function askedSeries(criteria: readonly Criterion[]): readonly Pick<StrengthSeries, 'measure' | 'statistic'>[] {
  const all = criteria.flatMap((criterion) => {
    switch (criterion.kind) {
      case 'strength_symmetry':
      case 'normalised_torque':
        return [criterion.series]
      case 'strength_ratio':
        return [criterion.numerator, criterion.denominator]
      case 'functional_symmetry':
      case 'functional_value':
      case 'questionnaire_total':
      case 'time_since_surgery':
      case 'clinician_observation':
        return []
    }
  })
  return [...new Map(all.map(({ measure, statistic }) => [`${measure} ${statistic}`, { measure, statistic }])).values()]
}

function strengthOf(
  record: ReadinessRecord,
  key: string,
  pair: JudgedPair,
  measure: string,
  statistic: string,
): StrengthEvidence {
  const { movement, contractionMode, velocityDegS } = parseSeriesKey(key)
  const limb = (row: JudgedResultRow | null) => (row === null ? null : limbValue(record, row, measure, statistic))
  return {
    sessionId: pair.sessionId,
    performedAt: pair.at,
    movement,
    contractionMode,
    velocityDegS,
    measure,
    statistic,
    left: limb(pair.left),
    right: limb(pair.right),
    limbComparability: pair.left === null || pair.right === null ? null : pair.setups.verdict,
    symmetryInterval: pair.interval,
  }
}

function limbValue(record: ReadinessRecord, row: JudgedResultRow, measure: string, statistic: string): LimbValue {
  const gravityCorrected = (row.keyFacts as KeyFacts).gravityCorrected
  return {
    resultId: row.id,
    outcome: outcomeOf(readMeasure(row.measures, measure, statistic)),
    standing: holdOn(record, row) ?? 'in_force',
    gravityCorrected: gravityCorrected ?? 'unknown',
    painDuring: (row.visitFacts as VisitFacts).painDuring,
  }
}

function outcomeOf(read: ReturnType<typeof readMeasure>): Outcome {
  return read.value === null ? { value: null, reason: read.reason } : { value: read.value, unit: read.unit }
}

/** The other limb from before, as the latest pair was judged against it. */
function preInjuryOf(
  record: ReadinessRecord,
  key: string,
  latest: JudgedPair,
  measure: string,
  statistic: string,
): PreInjuryReference[] {
  const { referenceResultId, estimatedPreInjuryCapacityPct: capacity } = latest.preInjury
  const row = record.results.find(({ id }) => id === referenceResultId)
  if (row === undefined) return []
  const { movement, contractionMode, velocityDegS } = parseSeriesKey(key)
  const refused = capacity.value === null && capacity.reason.startsWith('baseline_') ? capacity.reason : null
  return [
    {
      resultId: row.id,
      side: row.side,
      of: { movement, contractionMode, velocityDegS, measure, statistic },
      outcome: outcomeOf(readMeasure(row.measures, measure, statistic)),
      standing: holdOn(record, row) ?? 'in_force',
      comparability:
        refused === null
          ? latest.preInjury.cautions.includes('comparable_with_caution')
            ? 'comparable_with_caution'
            : 'comparable'
          : refused === 'baseline_not_comparable'
            ? 'not_comparable'
            : 'not_assessable',
    },
  ]
}

function functionalOutcome(row: FunctionalResultRow): Outcome {
  return row.value === null ? { value: null, reason: 'no_value' } : { value: row.value, unit: row.unit }
}

function standingOf(record: ReadinessRecord, row: FunctionalResultRow): string {
  const held = record.flags.find((flag) => flag.resultId === null && flag.sessionId === row.sessionId && flag.level === 'hold' && flag.status !== 'dismissed') // prettier-ignore
  return held?.code ?? 'in_force'
}

function functionalOf(record: ReadinessRecord, row: FunctionalResultRow): FunctionalEvidence[] {
  // A total is also a number by itself: a score of movement errors is no questionnaire.
  if (FUNCTIONAL_TEST_BY_CODE.get(row.test)?.form === 'observation') return []
  return [
    {
      functionalResultId: row.id,
      sessionId: row.sessionId,
      performedAt: row.performedAtAsSent,
      test: row.test,
      side: row.side as Side | null,
      outcome: functionalOutcome(row),
      standing: standingOf(record, row),
    },
  ]
}

function questionnaireOf(record: ReadinessRecord, row: FunctionalResultRow): QuestionnaireEvidence[] {
  if (FUNCTIONAL_TEST_BY_CODE.get(row.test)?.form !== 'total') return []
  return [
    {
      functionalResultId: row.id,
      performedAt: row.performedAtAsSent,
      questionnaire: row.test,
      formVersion: row.formVersion,
      outcome: functionalOutcome(row),
      standing: standingOf(record, row),
    },
  ]
}

function observationOf(row: ObservationRow): ObservationEvidence {
  return {
    observationId: row.id,
    performedAt: `${row.observedOn}T00:00:00Z`,
    observation: row.key,
    finding: row.value === 'not_assessed' ? null : row.value,
    standing: 'in_force',
  }
}

function observedInSession(row: FunctionalResultRow): ObservationEvidence[] {
  if (row.observation === null) return []
  const finding = row.observation === 'not_assessed' ? null : row.observation
  return [{ observationId: row.id, performedAt: row.performedAtAsSent, observation: row.test, finding, standing: 'in_force' }] // prettier-ignore
}

/** Functional tests of the other limb from before the operation, newest of each test. */
function functionalPreInjury(record: ReadinessRecord): PreInjuryReference[] {
  const { episode } = record
  const until = episode?.surgeryOn ?? episode?.injuredOn ?? null
  if (episode === null || until === null || (episode.involvedSide !== 'left' && episode.involvedSide !== 'right'))
    return []
  const other: Side = episode.involvedSide === 'left' ? 'right' : 'left'
  const before = record.functionalResults.filter(
    (row) => row.side === other && row.performedAtAsSent.slice(0, 10) < until,
  )
  return [...new Map(before.map((row) => [row.test, row])).values()].map((row) => ({
    resultId: row.id,
    side: other,
    of: { test: row.test },
    outcome: functionalOutcome(row),
    standing: standingOf(record, row),
    comparability: null,
  }))
}
