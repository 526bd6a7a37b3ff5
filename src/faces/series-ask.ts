import type { z } from 'zod'
import { DEFAULT_CONFIDENCE } from '../application/judgement/error-model.ts'
import { AppError } from '../domain/errors.ts'
import type { seriesQuery } from './shapes/queries.ts'

/** A series query in the words of the use cases. */
export function seriesAsk(query: z.output<typeof seriesQuery>) {
  const { joint, movement, contractionMode, contractionScheme, velocity, angle } = query
  if ((query.measure === 'torqueAtAngle') !== (angle !== undefined)) {
    throw new AppError('invalid_query', { detail: 'angle goes with torqueAtAngle, and with nothing else.' })
  }
  return {
    series: { joint, movement, contractionMode, contractionScheme, velocityDegS: velocity.canonicalValue },
    measure: query.measure,
    statistic: query.statistic,
    confidence: query.confidence ?? DEFAULT_CONFIDENCE,
    asKnownAt: query.asKnownAt === undefined ? null : new Date(query.asKnownAt),
    ...(angle === undefined ? {} : { angleDeg: angle.canonicalValue }),
  }
}
