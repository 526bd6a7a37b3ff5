import type { z } from 'zod'
import { DEFAULT_CONFIDENCE } from '../application/judgement/error-model.ts'
import { AppError } from '../domain/errors.ts'
import { WITHIN_DAYS } from '../domain/repeat-tests-document.ts'
import { seriesOf } from '../domain/series.ts'
import type { repeatTestsQuery, seriesQuery } from './shapes/queries.ts'

type SeriesQuery = z.output<typeof seriesQuery>

/** A series query in the words of the use cases. */
export function seriesAsk(query: SeriesQuery) {
  return {
    ...measureAsk(query),
    confidence: query.confidence ?? DEFAULT_CONFIDENCE,
    asKnownAt: query.asKnownAt === undefined ? null : new Date(query.asKnownAt),
  }
}

export function repeatTestsAsk(query: z.output<typeof repeatTestsQuery>) {
  const { scale, limbCondition, withinDays = WITHIN_DAYS.usual } = query
  return { ...measureAsk(query), scale, limbCondition, withinDays }
}

function measureAsk(query: Omit<SeriesQuery, 'confidence' | 'asKnownAt'>) {
  const { measure, statistic, angle } = query
  if ((measure === 'torqueAtAngle') !== (angle !== undefined)) {
    throw new AppError('invalid_query', { detail: 'angle goes with torqueAtAngle, and with nothing else.' })
  }
  return {
    series: seriesOf(query),
    measure,
    statistic,
    ...(angle === undefined ? {} : { angleDeg: angle.canonicalValue }),
  }
}
