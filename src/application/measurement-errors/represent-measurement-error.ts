import { parseSeriesKey } from '../../domain/series.ts'
import type { MeasurementErrorEntry } from '../../store/measurement-error-store.ts'
import { representScope } from '../judgement/error-model.ts'
import type { MeasurementErrorEstimate } from './estimate-measurement-error.ts'

export function representMeasurementError(row: MeasurementErrorEntry) {
  const { joint, movement, contractionMode, contractionScheme, velocityDegS } = parseSeriesKey(row.series)
  return {
    id: row.id,
    joint,
    movement,
    contractionMode,
    contractionScheme,
    velocity: { value: velocityDegS, unit: 'deg/s' },
    measure: row.measure,
    scale: row.scale,
    limbCondition: row.limbCondition,
    ...representScope(row),
    source: row.source,
    ...(row.estimate as MeasurementErrorEstimate['document']),
    computeVersion: row.computeVersion,
    recordedBy: row.recordedBy,
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type MeasurementErrorRepresentation = ReturnType<typeof representMeasurementError>
