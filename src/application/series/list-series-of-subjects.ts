/** What may be asked for as a trend: each series of a subject, its sides, and the measures it has values of. */
import { MEASURES } from '../../domain/code-lists.ts'
import { parseSeriesKey, representSeries } from '../../domain/series.ts'
import { loadSeries, loadSeriesMeasures, type SeriesMeasureRow, type SeriesRow } from '../../store/result-store.ts'
import { loadSubjects } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { distinctIds, inOrder } from '../shared/batch.ts'

/** Of a subject that is not found: none. */
export async function listSeriesOfSubjects(
  ctx: Context,
  input: { subjectIds: readonly string[] },
): Promise<readonly (readonly SeriesRepresentation[])[]> {
  return perform(ctx, 'series.list', async (tx, trace) => {
    const ids = distinctIds(input.subjectIds)
    const subjects = await loadSubjects(tx, ids, ctx.now)
    subjects.forEach(({ id }) => trace.subject(id))
    const sides = Map.groupBy(await loadSeries(tx, ids), (row) => row.subjectId)
    const measures = Map.groupBy(await loadSeriesMeasures(tx, ids), (row) => row.subjectId)
    const lists = new Map(subjects.map(({ id }) => [id, seriesOf(sides.get(id) ?? [], measures.get(id) ?? [])]))
    return inOrder(trace, input.subjectIds, lists).map((list) => list ?? [])
  })
}

function seriesOf(sides: readonly SeriesRow[], measures: readonly SeriesMeasureRow[]): SeriesRepresentation[] {
  const keys = [...new Set(sides.map((row) => row.series))]
  const items = keys.map((key) =>
    representListed(
      key,
      sides.filter((row) => row.series === key),
      measures.filter((row) => row.series === key),
    ),
  )
  return items.sort(byNameThenVelocity)
}

function representListed(key: string, sides: readonly SeriesRow[], measured: readonly SeriesMeasureRow[]) {
  const angles = [...new Set(measured.flatMap((row) => row.angleDeg ?? []))].sort((a, b) => a - b)
  return {
    ...representSeries(parseSeriesKey(key)),
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

export type SeriesRepresentation = ReturnType<typeof representListed>

function byNameThenVelocity(a: SeriesRepresentation, b: SeriesRepresentation): number {
  const name = (one: SeriesRepresentation) =>
    [one.joint, one.movement, one.contractionMode, one.contractionScheme].join('/')
  const [left, right] = [name(a), name(b)]
  return left === right ? a.velocity.value - b.velocity.value : left < right ? -1 : 1
}

const STATISTICS = ['best', 'mean', 'total', 'coefficientOfVariation']
