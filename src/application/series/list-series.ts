import type { Context } from '../context.ts'
import { listSeriesOfSubjects, type SeriesRepresentation } from './list-series-of-subjects.ts'

export async function listSeries(
  ctx: Context,
  input: { subjectId: string },
): Promise<{ items: readonly SeriesRepresentation[] }> {
  const [items = []] = await listSeriesOfSubjects(ctx, { subjectIds: [input.subjectId] })
  return { items }
}
