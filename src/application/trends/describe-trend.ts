/** One limb's series over time: what may be compared, what changed beyond its error, how fast, how far to go. */
import {
  betterWhen,
  calendarDayNumber,
  COMPUTE_VERSION,
  convert,
  decideChange,
  distanceToThreshold,
  groupRuns,
  multiplicityStatement,
  REFERENCE_DATA_VERSION,
  trendSlope,
  type ChangeDecision,
  type Comparability,
  type ComparedMeasure,
  type GroupedRuns,
  type MeasureName,
  type Run,
} from '../../compute/index.ts'
import type { Series } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { compareMeasure } from '../judgement/compare-results.ts'
import {
  errorModelOf,
  errorModelOfPair,
  errorModelOfTests,
  nameErrorModel,
  representErrorModel,
} from '../judgement/error-model.ts'
import type { VisitFacts } from '../judgement/facts.ts'
import { flagsOf, holdOn, type History } from '../judgement/history.ts'
import { representMeasureAsk, standingValue, type MeasureAsk } from '../judgement/limb-pairs.ts'
import { isPrimary } from '../judgement/primary-measures.ts'
import { representReasons } from '../judgement/represent-comparability.ts'
import { isComparableEnough, isWithin, type ShownTests } from '../judgement/shown-tests.ts'
import { readMeasure } from '../results/measures-document.ts'

/** A trend's tests must compare with the latest of them. */
export interface TrendAsk extends MeasureAsk, ShownTests {
  readonly subjectId: string
  readonly series: Series
  readonly side: 'left' | 'right'
  readonly threshold: { readonly value: number; readonly unit: string } | null
  readonly asKnownAt: Date | null
}

interface Point {
  readonly row: JudgedResultRow
  readonly value: number
}

interface PairJudgement extends Comparability {
  readonly against: JudgedResultRow
}

export type Trend = ReturnType<typeof describeTrend>

export function describeTrend(history: History, ask: TrendAsk) {
  const asked = history.results.filter((row) => row.side === ask.side && isWithin(row.startedAt, ask))
  const standing = asked.flatMap((row) => pointOf(history, ask, row) ?? [])
  const leftOut = incomparable(history, ask, standing)
  const points = standing.filter(({ row }) => !leftOut.has(row))
  const measure = ask.measure as ComparedMeasure
  const grouped = groupRuns(points, (earlier, later): PairJudgement => ({
    ...compareMeasure(earlier.row, later.row, measure, history.rules),
    against: earlier.row,
  }))
  const unit = asked[0] === undefined ? unitOf(ask) : readMeasure(asked[0].measures, ask.measure, ask.statistic, ask.angleDeg).unit // prettier-ignore
  const baseline = baselineOf(history, ask)
  const judged = points.map((point, index) => judgePoint(history, ask, points, grouped, baseline, point, index))
  const latest = points.at(-1)
  return {
    series: { ...representMeasureAsk(ask), side: ask.side },
    confidence: ask.confidence,
    primary: isPrimary(history.episode, ask.series, ask.measure),
    betterWhen: betterWhen(ask.measure as MeasureName, ask.statistic),
    errorModel:
      latest === undefined
        ? ({ kind: 'none', reason: 'no_test' } as const)
        : representErrorModel(errorModelOf(history, latest.row, ask.measure, ask.confidence), unit),
    points: judged.map((point) => ({ ...point, quantity: { value: point.quantity, unit } })),
    runs: grouped.runs.map((run) => representRun(history, ask, points, run, unit)),
    splits: grouped.splits.map(({ index, comparison }) => ({
      resultId: points[index]?.row.id ?? '',
      against: comparison.against.id,
      verdict: comparison.verdict,
      reasons: representReasons(comparison.reasons),
    })),
    excluded: asked.flatMap((row) => {
      const value = standingValue(history, row, ask)
      const reason = value.value === null ? value.reason : leftOut.get(row)
      if (reason === undefined) return []
      return [{ resultId: row.id, sessionId: row.sessionId, at: row.startedAt, reason, held: holdOn(history, row) !== null }] // prettier-ignore
    }),
    multiplicity: multiplicityStatement(judged.map(verdictsOn).reduce(sum, 0), ask.confidence).statement,
    computeVersion: COMPUTE_VERSION,
    referenceDataVersion: REFERENCE_DATA_VERSION,
  }
}

function pointOf(history: History, ask: TrendAsk, row: JudgedResultRow): Point | null {
  const { value } = standingValue(history, row, ask)
  return value === null ? null : { row, value }
}

/** Why tests are not in a trend of those that may be compared with the latest so well as is asked for. */
function incomparable(history: History, ask: TrendAsk, points: readonly Point[]): ReadonlyMap<JudgedResultRow, string> {
  const latest = points.at(-1)
  const reasons = new Map<JudgedResultRow, string>()
  if (latest === undefined || ask.comparability === null) return reasons
  for (const { row } of points.slice(0, -1)) {
    const { verdict } = compareMeasure(row, latest.row, ask.measure as ComparedMeasure, history.rules)
    if (isComparableEnough(verdict, ask)) continue
    reasons.set(row, verdict === 'comparable_with_caution' ? 'comparable_with_caution_only' : verdict)
  }
  return reasons
}

/** The test of this limb in the session that the episode names, whenever it was. */
function baselineOf(history: History, ask: TrendAsk): Point | null {
  const named = history.episode?.baselineSessionId ?? null
  const row = history.results.find(({ side, sessionId }) => side === ask.side && sessionId === named)
  return row === undefined ? null : pointOf(history, ask, row)
}

/** Each comparison of a point counts once, whichever names it goes by; one that says nothing cannot say too much. */
function verdictsOn({
  changeFromPrevious,
  changeFromRunStart,
  changeFromBaseline,
}: ReturnType<typeof judgePoint>): number {
  const said = [changeFromPrevious, changeFromRunStart, changeFromBaseline].filter((change) => change !== null)
  return new Set(said.filter(({ verdict }) => verdict !== 'undetermined').map(({ against }) => against)).size
}

const sum = (a: number, b: number): number => a + b

function judgePoint(
  history: History,
  ask: TrendAsk,
  points: readonly Point[],
  grouped: GroupedRuns<PairJudgement>,
  baseline: Point | null,
  point: Point,
  index: number,
) {
  const run = grouped.runs.find(({ label }) => label === grouped.runOf[index])
  const previous = grouped.previousOf[index] ?? null
  const start = run?.members[0] ?? index
  const visit = point.row.visitFacts as VisitFacts
  const effusion = visit.effusion?.find(({ joint, side }) => joint === ask.series.joint && side === ask.side)
  return {
    resultId: point.row.id,
    sessionId: point.row.sessionId,
    at: point.row.startedAt,
    quantity: point.value,
    perBodyMass: bothLimbsPerBodyMass(history, ask, point.row),
    run: grouped.runOf[index] ?? '',
    baseline: history.episode?.baselineSessionId === point.row.sessionId,
    changeFromPrevious: previous === null ? null : change(history, ask, points[previous], point),
    changeFromRunStart: start === index ? null : change(history, ask, points[start], point),
    changeFromBaseline:
      baseline === null || baseline.row.testedAt >= point.row.testedAt ? null : change(history, ask, baseline, point),
    painDuring: visit.painDuring === null ? null : { value: visit.painDuring, unit: '{score}' },
    effusion: effusion === undefined ? null : { before: effusion.before, after: effusion.after ?? null },
    flags: [...new Set(flagsOf(history, point.row).map((flag) => flag.code))],
  }
}

/** Both limbs in N.m/kg beside each point: symmetry alone hides two weak limbs. null where the measure has no such form. */
function bothLimbsPerBodyMass(history: History, ask: TrendAsk, row: JudgedResultRow) {
  const form = PER_BODY_MASS[ask.measure]
  if (form === undefined) return null
  const ofSide = (side: 'left' | 'right') => {
    const found = history.results.filter((other) => other.sessionId === row.sessionId && other.side === side)
    const [only] = found
    if (only === undefined || found.length > 1) return null
    const { value } = standingValue(history, only, { ...ask, measure: form })
    return value === null ? null : { value, unit: readMeasure(only.measures, form, ask.statistic).unit }
  }
  return { left: ofSide('left'), right: ofSide('right') }
}

const PER_BODY_MASS: Readonly<Record<string, MeasureName>> = {
  peakTorque: 'peakTorquePerBodyMass',
  workPerRepetition: 'workPerBodyMass',
  averagePower: 'averagePowerPerBodyMass',
}

function change(history: History, ask: TrendAsk, earlier: Point | undefined, later: Point) {
  if (earlier === undefined) return null
  const errorModel = errorModelOfPair(history, earlier.row, later.row, ask.measure, ask.confidence)
  const decision = decideChange({
    earlier: { value: earlier.value },
    later: { value: later.value },
    errorModel,
    confidence: ask.confidence,
    comparability: compareMeasure(earlier.row, later.row, ask.measure as ComparedMeasure, history.rules).verdict,
    betterWhen: betterWhen(ask.measure as MeasureName, ask.statistic),
  })
  const { unit } = readMeasure(later.row.measures, ask.measure, ask.statistic, ask.angleDeg)
  return { ...representChange(decision, earlier.row, unit), judgedBy: nameErrorModel(errorModel) }
}

function representChange(decision: ChangeDecision, against: JudgedResultRow, unit: string) {
  return {
    verdict: decision.verdict,
    difference: decision.difference === null ? null : { value: decision.difference, unit },
    ...(decision.limits === null ? {} : { withinErrorBetween: { ...decision.limits, unit } }),
    ...(decision.standardised === null ? {} : { standardised: decision.standardised }),
    ...(decision.pValue === null ? {} : { pValue: decision.pValue }),
    ...(decision.reason === null ? {} : { reason: decision.reason }),
    ...(decision.meaning === null ? {} : { meaning: decision.meaning }),
    cautions: decision.cautions,
    against: against.id,
  }
}

function representRun(history: History, ask: TrendAsk, points: readonly Point[], run: Run, unit: string) {
  const members = run.members.flatMap((index) => points[index] ?? [])
  const last = members.at(-1)
  const errorModel = errorModelOfTests(history, members.map(({ row }) => row), ask.measure, ask.confidence) // prettier-ignore
  const slope = trendSlope({
    points: members.map(({ row, value }) => ({ timeDays: calendarDayNumber(row.startedAt.slice(0, 10)), value })),
    comparability: run.comparability,
    errorModel,
    confidence: ask.confidence,
  })
  return {
    run: run.label,
    pointCount: members.length,
    comparability: run.comparability,
    slope: {
      value: slope.perMonth,
      unit: `${unit}/mo`,
      ...(slope.reason === null ? {} : { reason: slope.reason }),
      ...(slope.interval === null ? {} : { interval: slope.interval }),
      ...(slope.standardError === null ? {} : { standardError: slope.standardError }),
      verdict: slope.verdict,
      ...(slope.standardErrorFrom === null ? {} : { standardErrorFrom: slope.standardErrorFrom }),
      cautions: slope.cautions,
    },
    ...(ask.threshold === null || last === undefined ? {} : { threshold: thresholdOf(ask, last, unit) }),
  }
}

function thresholdOf(ask: TrendAsk, last: Point, unit: string) {
  const asked = ask.threshold ?? { value: 0, unit }
  const distance = distanceToThreshold({
    latest: { value: last.value },
    threshold: convert(asked.value, asked.unit, unit),
    betterWhen: betterWhen(ask.measure as MeasureName, ask.statistic) ?? 'higher',
  })
  return {
    value: distance.threshold,
    unit,
    distance: { value: distance.distance, unit },
    note: distance.note,
  }
}

const unitOf = (ask: TrendAsk): string => readMeasure({}, ask.measure, ask.statistic).unit
