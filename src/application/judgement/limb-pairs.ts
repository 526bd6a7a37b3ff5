/** The two limbs of one session in one series: symmetry, with its interval, its setups' verdict and what stands against it. */
import {
  estimatedPreInjuryCapacity,
  limbSymmetryIndex,
  limbSymmetryInterval,
  type Comparability,
  type ComparedMeasure,
  type ConfidenceInterval,
  type EstimatedPreInjuryCapacity,
  type LimbSymmetry,
  type Measured,
  type PreInjuryBaseline,
} from '../../compute/index.ts'
import { representSeries, type Series } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { readMeasure } from '../results/measures-document.ts'
import { compareMeasure } from './compare-results.ts'
import { errorModelOf, limbErrorPercent } from './error-model.ts'
import { holdOn, type History } from './history.ts'
import { otherLimb } from './person.ts'

export interface MeasureAsk {
  readonly measure: string
  readonly statistic: string
  readonly angleDeg?: number
  readonly confidence: number
}

/** What is asked of whom, as answers name it. */
export function representMeasureAsk(ask: MeasureAsk & { readonly subjectId: string; readonly series: Series }) {
  return {
    subjectId: ask.subjectId,
    ...representSeries(ask.series),
    measure: ask.measure,
    statistic: ask.statistic,
    ...(ask.angleDeg === undefined ? {} : { angle: { value: ask.angleDeg, unit: 'deg' } }),
  }
}

export interface JudgedPair {
  readonly sessionId: string
  readonly at: string
  readonly left: JudgedResultRow | null
  readonly right: JudgedResultRow | null
  readonly leftValue: Measured
  readonly rightValue: Measured
  readonly unit: string
  readonly symmetry: LimbSymmetry
  readonly interval: ConfidenceInterval | null
  readonly intervalReason: string | null
  readonly setups: Comparability
  readonly preInjury: EstimatedPreInjuryCapacity
}

/** Judged session by session, oldest first. `rows`: one series, both sides. */
export function judgePairs(history: History, rows: readonly JudgedResultRow[], ask: MeasureAsk): JudgedPair[] {
  const sessions = [...new Set(rows.map((row) => row.sessionId))]
  const baseline = preInjuryRow(history, rows, ask)
  return sessions.map((sessionId) => judgePair(history, rows.filter((row) => row.sessionId === sessionId), baseline, ask)) // prettier-ignore
}

function judgePair(
  history: History,
  rows: readonly JudgedResultRow[],
  baseline: JudgedResultRow | null,
  ask: MeasureAsk,
): JudgedPair {
  const only = (side: 'left' | 'right'): { row: JudgedResultRow | null; value: Measured } => {
    const ofSide = rows.filter((row) => row.side === side)
    const row = ofSide[0]
    if (row === undefined) return { row: null, value: { value: null, reason: 'other_limb_not_tested_in_session' } }
    if (ofSide.length > 1) return { row, value: { value: null, reason: 'more_than_one_result_for_side' } }
    return { row, value: standingValue(history, row, ask) }
  }
  const left = only('left')
  const right = only('right')
  const setups = limbSetups(history, left.row, right.row, ask)
  const symmetry = symmetryOf(history, left.value, right.value, setups)
  const index = symmetry.limbSymmetryIndexPct.value
  const interval = index === null ? null : intervalOf(history, left.row, right.row, index, ask)
  const first = rows[0]
  return {
    sessionId: first?.sessionId ?? '',
    at: first?.startedAt ?? '',
    left: left.row,
    right: right.row,
    leftValue: left.value,
    rightValue: right.value,
    unit: first === undefined ? '1' : readMeasure(first.measures, ask.measure, ask.statistic, ask.angleDeg).unit,
    symmetry,
    interval: interval !== null && 'low' in interval ? interval : null,
    intervalReason: interval !== null && 'reason' in interval ? interval.reason : null,
    setups,
    preInjury: preInjuryOf(history, left, right, baseline, ask),
  }
}

/** A value on hold is no value: its reason is the flag's code. */
export function standingValue(history: History, row: JudgedResultRow, ask: MeasureAsk): Measured {
  const hold = holdOn(history, row)
  return hold === null ? readMeasure(row.measures, ask.measure, ask.statistic, ask.angleDeg) : { value: null, reason: hold } // prettier-ignore
}

function limbSetups(
  history: History,
  left: JudgedResultRow | null,
  right: JudgedResultRow | null,
  ask: MeasureAsk,
): Comparability {
  if (left === null || right === null) return { verdict: 'not_assessable', reasons: [] }
  const measure = ask.measure as ComparedMeasure
  return compareMeasure(left, right, measure, history.rules)
}

function symmetryOf(history: History, left: Measured, right: Measured, setups: Comparability): LimbSymmetry {
  const { episode } = history
  if (episode === null || episode.involvedSide === 'none') {
    const reason = episode === null ? 'no_episode' : 'no_involved_side'
    return { limbSymmetryIndexPct: { value: null, reason }, deficitPct: { value: null, reason }, weakerSide: weaker(left, right), cautions: [] } // prettier-ignore
  }
  return limbSymmetryIndex({
    left,
    right,
    // For two involved limbs compute refuses the index; a side is needed to ask.
    involvedSide: episode.involvedSide === 'bilateral' ? 'left' : episode.involvedSide,
    betterWhen: 'higher',
    otherLimb: otherLimb(episode),
    setupsMatch: setups.verdict,
  })
}

function weaker(left: Measured, right: Measured): LimbSymmetry['weakerSide'] {
  if (left.value === null || right.value === null) return null
  return left.value === right.value ? 'equal' : left.value < right.value ? 'left' : 'right'
}

function intervalOf(
  history: History,
  left: JudgedResultRow | null,
  right: JudgedResultRow | null,
  index: number,
  ask: MeasureAsk,
): ConfidenceInterval | { reason: string } | null {
  if (left === null || right === null || !(index > 0)) return null
  const errors = [left, right].map((row) => {
    const model = errorModelOf(history, row, ask.measure, ask.confidence)
    if (model.kind === 'none') return model
    const value = readMeasure(row.measures, ask.measure, ask.statistic, ask.angleDeg).value
    if (value === null || !(value > 0)) return { kind: 'none', reason: 'not_positive' } as const
    return { kind: 'known', percent: limbErrorPercent(model, value), degreesOfFreedom: model.degreesOfFreedom } as const
  })
  const none = errors.find((error) => error.kind === 'none')
  if (none !== undefined) return { reason: none.reason }
  const known = errors.filter((error) => error.kind === 'known')
  // The larger of the two limbs' errors, for both: an interval that is too wide misleads less than one too narrow.
  const worst = known.reduce((a, b) => (b.percent > a.percent ? b : a))
  return limbSymmetryInterval(index, {
    limbCoefficientOfVariationPct: worst.percent,
    degreesOfFreedom: worst.degreesOfFreedom,
    confidence: ask.confidence,
  })
}

/** The other limb before injury, else before the operation: the newest such test; a later one never takes its place. */
function preInjuryRow(history: History, rows: readonly JudgedResultRow[], ask: MeasureAsk): JudgedResultRow | null {
  const { episode } = history
  if (episode === null || (episode.involvedSide !== 'left' && episode.involvedSide !== 'right')) return null
  const until = episode.surgeryOn ?? episode.injuredOn
  if (until === null) return null
  const other = episode.involvedSide === 'left' ? 'right' : 'left'
  return (
    rows
      .filter((row) => row.side === other && row.startedAt.slice(0, 10) < until)
      .filter((row) => standingValue(history, row, ask).value !== null)
      .at(-1) ?? null
  )
}

function preInjuryOf(
  history: History,
  left: { row: JudgedResultRow | null; value: Measured },
  right: { row: JudgedResultRow | null; value: Measured },
  baseline: JudgedResultRow | null,
  ask: MeasureAsk,
): EstimatedPreInjuryCapacity {
  const involved = history.episode?.involvedSide === 'left' ? left : right
  const measure = ask.measure as ComparedMeasure
  return estimatedPreInjuryCapacity({
    involvedNow: involved.value,
    baseline: baseline === null ? null : preInjuryBaseline(history, baseline, involved.row, measure, ask),
    betterWhen: 'higher',
  })
}

function preInjuryBaseline(
  history: History,
  baseline: JudgedResultRow,
  involved: JudgedResultRow | null,
  measure: ComparedMeasure,
  ask: MeasureAsk,
): PreInjuryBaseline {
  const before = history.episode?.injuredOn ?? null
  return {
    uninvolved: standingValue(history, baseline, ask),
    resultId: baseline.id,
    testedWhen: before !== null && baseline.startedAt.slice(0, 10) < before ? 'pre_injury' : 'pre_operative',
    comparability:
      involved === null ? 'not_assessable' : compareMeasure(baseline, involved, measure, history.rules).verdict,
  }
}
