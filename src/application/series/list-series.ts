/** What may be asked for as a trend: each series of a subject, its sides, and the measures it has values of. */
import { MEASURES } from '../../domain/code-lists.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import { loadSeries, loadSeriesMeasures } from '../../store/result-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'

type SeriesSide = Awaited<ReturnType<typeof loadSeries>>[number]
type SeriesMeasure = Awaited<ReturnType<typeof loadSeriesMeasures>>[number]

export async function listSeries(ctx: Context, input: { subjectId: string }) {
  return perform(ctx, 'series.list', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    const sides = await loadSeries(tx, input.subjectId)
    const measures = await loadSeriesMeasures(tx, input.subjectId)
    const keys = [...new Set(sides.map((row) => row.series))]
    const items = keys.map((key) =>
      representSeries(
        key,
        sides.filter((row) => row.series === key),
        measures.filter((row) => row.series === key),
      ),
    )
    return { items: items.sort(byNameThenVelocity) }
  })
}

function representSeries(key: string, sides: readonly SeriesSide[], measured: readonly SeriesMeasure[]) {
  const { joint, movement, contractionMode, contractionScheme, velocityDegS } = parseSeriesKey(key)
  const angles = [...new Set(measured.flatMap((row) => row.angleDeg ?? []))].sort((a, b) => a - b)
  return {
    joint,
    movement,
    contractionMode,
    contractionScheme,
    velocity: { value: velocityDegS, unit: 'deg/s' },
    sides: sides.map((row) => ({
      side: row.side,
      tests: row.tests,
      firstAt: row.firstTestedAt.toISOString(),
      lastAt: row.lastTestedAt.toISOString(),
    })),
    measures: MEASURES.flatMap((measure) => {
      const statistics = STATISTICS.filter((s) =>
        measured.some((row) => row.measure === measure && row.statistic === s),
      )
      if (statistics.length === 0) return []
      const at = measure === 'torqueAtAngle' ? { angles: angles.map((value) => ({ value, unit: 'deg' })) } : {}
      return [{ measure, statistics, ...at }]
    }),
  }
}

type SeriesRepresentation = ReturnType<typeof representSeries>

function byNameThenVelocity(a: SeriesRepresentation, b: SeriesRepresentation): number {
  const name = (one: SeriesRepresentation) =>
    [one.joint, one.movement, one.contractionMode, one.contractionScheme].join('/')
  const [left, right] = [name(a), name(b)]
  return left === right ? a.velocity.value - b.velocity.value : left < right ? -1 : 1
}

const STATISTICS = ['best', 'mean', 'total', 'coefficientOfVariation']
