import type { z } from 'zod'
import { DEFAULT_CONFIDENCE } from '../application/judgement/error-model.ts'
import { AppError } from '../domain/errors.ts'
import { WITHIN_DAYS } from '../domain/repeat-tests-document.ts'
import { seriesOf } from '../domain/series.ts'
import type { repeatTestsQuery, seriesQuery, symmetryQuery, trendQuery } from './shapes/queries.ts'

export function symmetryAsk(query: z.output<typeof symmetryQuery>) {
  const { confidence, asKnownAt, from, to, comparability } = query
  return {
    ...measureAsk(query),
    confidence: confidence ?? DEFAULT_CONFIDENCE,
    asKnownAt: asKnownAt === undefined ? null : new Date(asKnownAt),
    from: from ?? null,
    to: to ?? null,
    comparability: comparability ?? null,
  }
}

export function trendAsk(query: z.output<typeof trendQuery>) {
  return { ...symmetryAsk(query), side: query.side, threshold: query.threshold ?? null }
}

export function repeatTestsAsk(query: z.output<typeof repeatTestsQuery>) {
  const { scale, limbCondition, withinDays = WITHIN_DAYS.usual } = query
  return { ...measureAsk(query), scale, limbCondition, withinDays }
}

function measureAsk(query: Omit<z.output<typeof seriesQuery>, 'confidence' | 'asKnownAt'>) {
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
