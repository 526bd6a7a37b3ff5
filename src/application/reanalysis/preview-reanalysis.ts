/**
 * One limb's whole history of a measure analysed again under one filter, window and gravity, and told beside what was said then:
 * which past changes survive. Read only: nothing is stored, and the results in force stay in force.
 */
import type { Analysis, AnalysisParameters } from '../../compute/index.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { ReanalysisPreviewQuestion } from '../../domain/reanalysis-preview-document.ts'
import { seriesKey, seriesOf } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import { withClinic } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { DEFAULT_CONFIDENCE } from '../judgement/error-model.ts'
import { loadHistory, type History } from '../judgement/history.ts'
import { perform } from '../perform.ts'
import { measuresDocument } from '../results/measures-document.ts'
import { orNotFound } from '../shared/existing.ts'
import { describeTrend, type Trend, type TrendAsk } from '../trends/describe-trend.ts'
import { chooseParameters } from './choose-parameters.ts'
import { loadAnalysedSet } from './load-analysed-set.ts'
import { paramsHashOf } from './reanalyse-set.ts'
import { directionOf, replacedFacts } from './replaced-results.ts'

/** One at a time, so that a preview never takes the threads that pushes wait for. */
const MOST_TESTS = 200

type Point = Trend['points'][number]

export async function previewReanalysis(
  ctx: Context,
  input: { subjectId: string; document: LazyDocument<ReanalysisPreviewQuestion> },
) {
  const { history, question, ask } = await perform(ctx, 'reanalysis.preview', async (tx, trace) => {
    const known = { subjectId: input.subjectId, knownAt: ctx.now, episodeId: null }
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    const question = input.document().value
    const ask = askOf(input.subjectId, question)
    const series = seriesKey(ask.series)
    trace.detail('series', series)
    const history = orNotFound(await loadHistory(tx, { ...known, joint: question.joint, series }))
    return { history, question, ask }
  })
  const parameters = parametersOf(question)
  const again = await analyseAgain(ctx, history, question, parameters)
  const before = describeTrend(history, ask)
  const after = describeTrend({ ...history, results: again.results }, ask)
  return {
    series: before.series,
    choices: { ...choicesInForce(parameters), gravity: question.gravity },
    points: rowsOf(history, question).flatMap((row) => comparePoint(row, before, after)),
    notAnalysedAgain: again.left,
    splits: { before: before.splits.length, after: after.splits.length },
    slopes: { before: before.runs.map(slopeOf), after: after.runs.map(slopeOf) },
    notes: [
      'Nothing was stored. Tests whose values came from a device, without a recording, keep those values.',
      'A change that does not survive another defensible choice is a finding about the choice, not about the limb.',
    ],
  }
}

/** A torque at an angle is asked for at that angle, whatever the usual ones are. */
function parametersOf({ choices, angle }: ReanalysisPreviewQuestion): AnalysisParameters {
  const parameters = chooseParameters(choices)
  const { torqueAtAnglesDeg: angles } = parameters
  if (angle === undefined || angles.includes(angle.canonicalValue)) return parameters
  return { ...parameters, torqueAtAnglesDeg: [...angles, angle.canonicalValue] }
}

function askOf(subjectId: string, question: ReanalysisPreviewQuestion): TrendAsk {
  const { side, measure, statistic, angle } = question
  return {
    subjectId,
    series: seriesOf(question),
    side,
    measure,
    statistic,
    confidence: question.confidence ?? DEFAULT_CONFIDENCE,
    from: null,
    to: null,
    comparability: null,
    threshold: null,
    asKnownAt: null,
    ...(angle === undefined ? {} : { angleDeg: angle.canonicalValue }),
  }
}

interface Again {
  readonly results: readonly JudgedResultRow[]
  readonly left: { readonly resultId: string; readonly sessionId: string; readonly reason: string }[]
}

async function analyseAgain(
  ctx: Context,
  history: History,
  question: ReanalysisPreviewQuestion,
  parameters: AnalysisParameters,
): Promise<Again> {
  const left: Again['left'] = []
  const results: JudgedResultRow[] = []
  const hash = Buffer.from(paramsHashOf(parameters)).toString('hex')
  const newest = history.results.filter((row) => row.side === question.side).slice(-MOST_TESTS)
  for (const row of history.results) {
    if (row.side !== question.side) {
      results.push(row)
      continue
    }
    const reason = row.origin === 'reported' ? 'no_recording' : newest.includes(row) ? null : 'too_many_tests'
    if (reason !== null) {
      left.push({ resultId: row.id, sessionId: row.sessionId, reason })
      results.push(row)
      continue
    }
    results.push(replaced(row, await analysisOf(ctx, row, question, parameters), hash))
  }
  return { results, left }
}

async function analysisOf(
  ctx: Context,
  row: JudgedResultRow,
  question: ReanalysisPreviewQuestion,
  parameters: AnalysisParameters,
): Promise<Analysis | null> {
  const set = await withClinic(ctx.db, ctx.actor, (tx) => loadAnalysedSet(tx, row))
  if (set === null) return null
  const { bytes, header, recordingSha256: sha256 } = set
  const gravity = question.gravity === 'left_in' ? null : set.gravity
  return ctx.pool.reanalyse({ bytes, header, sha256, protocol: set.protocol(parameters, gravity) })
}

function replaced(row: JudgedResultRow, analysis: Analysis | null, paramsHash: string): JudgedResultRow {
  const direction = analysis === null ? null : directionOf(analysis, row)
  if (analysis === null || direction === null) return row
  return {
    ...row,
    measures: measuresDocument(direction),
    keyFacts: replacedFacts(row.keyFacts, analysis, paramsHash),
  }
}

const rowsOf = (history: History, { side }: ReanalysisPreviewQuestion): readonly JudgedResultRow[] =>
  history.results.filter((row) => row.side === side)

/** A test that has a value in one of the two only is shown as well: that the value came or went is the finding. */
function comparePoint(row: JudgedResultRow, before: Trend, after: Trend) {
  const [then, now] = [before, after].map((trend) => trend.points.find(({ resultId }) => resultId === row.id))
  if (then === undefined && now === undefined) return []
  return [
    {
      resultId: row.id,
      sessionId: row.sessionId,
      at: row.startedAt,
      before: briefPoint(then, before, row),
      after: briefPoint(now, after, row),
      changeFromPreviousSurvives: survives(then?.changeFromPrevious ?? null, now?.changeFromPrevious ?? null),
      changeFromRunStartSurvives: survives(then?.changeFromRunStart ?? null, now?.changeFromRunStart ?? null),
      changeFromBaselineSurvives: survives(then?.changeFromBaseline ?? null, now?.changeFromBaseline ?? null),
    },
  ]
}

function briefPoint(point: Point | undefined, trend: Trend, row: JudgedResultRow) {
  if (point === undefined) {
    const reason = trend.excluded.find(({ resultId }) => resultId === row.id)?.reason ?? 'not_measured'
    return { quantity: null, reason, changeFromPrevious: null, changeFromRunStart: null, changeFromBaseline: null }
  }
  return {
    quantity: point.quantity,
    changeFromPrevious: brief(point.changeFromPrevious),
    changeFromRunStart: brief(point.changeFromRunStart),
    changeFromBaseline: brief(point.changeFromBaseline),
  }
}

type Change = Point['changeFromPrevious']

const brief = (of: Change) => (of === null ? null : { verdict: of.verdict, difference: of.difference })

/** Only what was called a change can survive as one: in the same direction. */
function survives(before: Change, after: Change): 'yes' | 'no' | 'was_no_change' {
  if (before === null || (before.verdict !== 'increased' && before.verdict !== 'decreased')) return 'was_no_change'
  return after?.verdict === before.verdict ? 'yes' : 'no'
}

const slopeOf = ({ run, pointCount, slope }: Trend['runs'][number]) => ({
  run,
  pointCount,
  value: slope.value,
  unit: slope.unit,
  verdict: slope.verdict,
})

function choicesInForce({ filter, loadRange, workWindow }: AnalysisParameters) {
  return {
    filter:
      filter.kind === 'none'
        ? { kind: filter.kind, cutoffs: [] }
        : {
            kind: filter.kind,
            cutoffs: filter.cutoffs.map(({ upToDegS, cutoffHz }) => ({
              upTo: { value: upToDegS, unit: 'deg/s' },
              cutoff: { value: cutoffHz, unit: 'Hz' },
            })),
          },
    loadRange: {
      band: { value: loadRange.bandPercent, unit: '%' },
      minimumRange: { value: loadRange.minimumRangeDeg, unit: 'deg' },
      minimumDuration: { value: loadRange.minimumDurationMs, unit: 'ms' },
    },
    workWindow,
  }
}
