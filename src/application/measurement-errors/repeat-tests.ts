/** The clinic's repeat tests of a series as a measurement error: of all, of each operator, machine, and operator on a machine. */
import { MEASURE_UNITS, type ErrorScope } from '../../compute/index.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { RepeatTestsDocument } from '../../domain/repeat-tests-document.ts'
import { representSeries, seriesKey, seriesOf, type Series } from '../../domain/series.ts'
import { loadEpisodesOfSubjects, type EpisodeRow } from '../../store/episode-store.ts'
import { loadFlags } from '../../store/flag-store.ts'
import { loadResultsOfRepeaters, type JudgedResultRow } from '../../store/result-store.ts'
import { loadRepeatSessions } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { holdOn, newestOf } from '../judgement/history.ts'
import { testedPerson } from '../judgement/person.ts'
import { loadRulesInForce } from '../judgement/rules-in-force.ts'
import { perform, type Trace } from '../perform.ts'
import { readMeasure } from '../results/measures-document.ts'
import { estimateMeasurementError } from './estimate-measurement-error.ts'
import { pairRepeats, type LeftOut, type RepeatableTest, type RepeatedPair } from './pair-repeats.ts'
import { resolveErrorScope, storeMeasurementError } from './store-measurement-error.ts'

export interface RepeatTestsAsk {
  readonly series: Series
  readonly measure: RepeatTestsDocument['measure']
  readonly statistic: string
  readonly angleDeg?: number
  readonly scale: 'absolute' | 'percent'
  readonly limbCondition: RepeatTestsDocument['limbCondition']
  readonly withinDays: number
}

export async function readRepeatTests(ctx: Context, ask: RepeatTestsAsk) {
  return perform(ctx, 'measurement-errors.list', async (tx, trace) => {
    const { pairs, leftOut } = await collectPairs(tx, ctx, trace, ask)
    return {
      series: representSeries(ask.series),
      measure: ask.measure,
      statistic: ask.statistic,
      scale: ask.scale,
      limbCondition: ask.limbCondition,
      withinDays: ask.withinDays,
      all: groupOf(ask, pairs),
      byOperator: groupsOf(ask, pairs, ({ operatorId }) => ({ operatorId })),
      byDynamometer: groupsOf(ask, pairs, ({ dynamometerId }) => ({ dynamometerId })),
      byOperatorAndDynamometer: groupsOf(ask, pairs, ({ operatorId, dynamometerId }) => ({
        operatorId,
        dynamometerId,
      })),
      pairs: pairs.map(({ first, second, firstValue, secondValue }) => ({
        first: { resultId: first.row.id, sessionId: first.row.sessionId, value: firstValue },
        second: { resultId: second.row.id, sessionId: second.row.sessionId, value: secondValue },
        unit: MEASURE_UNITS[ask.measure],
      })),
      leftOut,
    }
  })
}

/** From then on changes of the series are judged with it, where there are pairs enough and the limbs are alike. */
export async function adoptRepeatTests(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<RepeatTestsDocument> },
): Promise<Created> {
  return createOnce(ctx, 'measurement-errors.create', input.once, async (tx, trace) => {
    const { value } = input.document()
    const ask = askOf(value)
    const scope = await resolveErrorScope(tx, value)
    const collected = await collectPairs(tx, ctx, trace, ask)
    const pairs = collected.pairs.filter((pair) => isOf(pair, scope))
    const estimate = estimateMeasurementError(pairsDocument(ask, pairs))
    if (!estimate.ok || pairs.length < 3) {
      const code = estimate.ok ? 'fewer_than_three_pairs' : estimate.fault.code
      const message = `${pairs.length} pairs of these repeat tests can be used: no error can be estimated from them.`
      throw new AppError('invalid_document', { faults: [{ pointer: '#', code, message }] })
    }
    const source = value.source ?? sourceOf(pairs, scope)
    const body = await storeMeasurementError(tx, ctx, trace, {
      about: { ...ask, source },
      scope,
      pairs: pairsDocument(ask, pairs).pairs.map(({ first, second }) => ({ first: plain(first), second: plain(second) })), // prettier-ignore
      estimate: estimate.value,
    })
    return { status: 201, headers: { Location: '/v1/measurement-errors' }, body }
  })
}

const plain = ({ value, unit }: { value: number; unit: string }) => ({ value, unit })

function askOf(document: RepeatTestsDocument): RepeatTestsAsk {
  const { angle } = document
  return {
    series: seriesOf(document),
    measure: document.measure,
    statistic: document.statistic,
    scale: document.scale,
    limbCondition: document.limbCondition,
    withinDays: document.withinDays,
    ...(angle === undefined ? {} : { angleDeg: angle.canonicalValue }),
  }
}

async function collectPairs(
  tx: ClinicTx,
  ctx: Context,
  trace: Trace,
  ask: RepeatTestsAsk,
): Promise<{ pairs: RepeatedPair[]; leftOut: LeftOut[] }> {
  const series = seriesKey(ask.series)
  trace.detail('series', series)
  const repeats = new Map((await loadRepeatSessions(tx)).map((one) => [one.sessionId, one.firstSessionId]))
  const pairing = { ...ask, rules: await loadRulesInForce(tx, ctx.now) }
  const pairs: RepeatedPair[] = []
  const leftOut: LeftOut[] = []
  const people = Map.groupBy(await loadResultsOfRepeaters(tx, series), (row) => row.subjectId)
  const subjectIds = [...people.keys()]
  const flags = Map.groupBy(await loadFlags(tx, { subjectId: { in: subjectIds } }, ctx.now), (flag) => flag.subjectId)
  const episodes = Map.groupBy(await loadEpisodesOfSubjects(tx, subjectIds, ctx.now), (episode) => episode.subjectId)
  for (const [subjectId, rows] of people) {
    trace.subject(subjectId)
    const episode = newestOf(episodes.get(subjectId) ?? [], ask.series.joint)
    const tests = testsOf(rows, { flags: flags.get(subjectId) ?? [], knownAt: ctx.now }, episode, ask)
    const found = pairRepeats(tests, repeats, pairing)
    pairs.push(...found.pairs)
    leftOut.push(...found.leftOut)
  }
  return { pairs, leftOut }
}

function testsOf(
  rows: readonly JudgedResultRow[],
  held: Parameters<typeof holdOn>[0],
  episode: EpisodeRow | null,
  ask: RepeatTestsAsk,
): RepeatableTest[] {
  return rows.map((row) => {
    const hold = holdOn(held, row)
    const read = readMeasure(row.measures, ask.measure, ask.statistic, ask.angleDeg)
    const nobody = { sex: 'unknown', birthDate: null } as const
    return {
      row,
      value: hold === null ? read : { value: null, reason: hold },
      limbCondition: testedPerson(nobody, episode, row.side, row.startedAt.slice(0, 10)).limbCondition,
    }
  })
}

function pairsDocument({ measure, scale }: RepeatTestsAsk, pairs: readonly RepeatedPair[]) {
  const unit = MEASURE_UNITS[measure]
  const quantity = (value: number) => ({ value, unit, canonicalValue: value, canonicalUnit: unit })
  return {
    measure,
    scale,
    pairs: pairs.map(({ firstValue, secondValue }) => ({ first: quantity(firstValue), second: quantity(secondValue) })),
  }
}

function groupOf(ask: RepeatTestsAsk, pairs: readonly RepeatedPair[]) {
  const estimate = estimateMeasurementError(pairsDocument(ask, pairs))
  return estimate.ok
    ? { pairs: pairs.length, estimate: estimate.value.document }
    : { pairs: pairs.length, estimate: null, reason: estimate.fault.code }
}

/** One group for each that tested, or was tested on; its pairs are those that an error adopted for it would rest on. */
function groupsOf<Scope extends Partial<ErrorScope>>(
  ask: RepeatTestsAsk,
  pairs: readonly RepeatedPair[],
  scopeOf: (pair: RepeatedPair) => Scope,
) {
  const groups = Map.groupBy(pairs, (pair) => JSON.stringify(scopeOf(pair)))
  return [...groups].map(([scope, group]) => ({ ...(JSON.parse(scope) as Scope), ...groupOf(ask, group) }))
}

const isOf = (pair: RepeatedPair, { operatorId, dynamometerId }: ErrorScope): boolean =>
  (operatorId === null || pair.operatorId === operatorId) &&
  (dynamometerId === null || pair.dynamometerId === dynamometerId)

function sourceOf(pairs: readonly RepeatedPair[], { operatorId, dynamometerId }: ErrorScope): string {
  const days = pairs.flatMap(({ first, second }) => [first, second].map(({ row }) => row.startedAt.slice(0, 10))).sort()
  const by = operatorId === null ? '' : ' by one operator'
  const on = dynamometerId === null ? '' : ' on one machine'
  return `own repeat tests${by}${on}, ${pairs.length} pairs, ${days[0] ?? ''} to ${days.at(-1) ?? ''}`
}
