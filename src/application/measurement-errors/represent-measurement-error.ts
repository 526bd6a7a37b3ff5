import { parseSeriesKey, representSeries } from '../../domain/series.ts'
import type { MeasurementErrorEntry } from '../../store/measurement-error-store.ts'
import { representScope } from '../judgement/error-model.ts'
import type { MeasurementErrorEstimate } from './estimate-measurement-error.ts'

export function representMeasurementError(row: MeasurementErrorEntry) {
  return {
    id: row.id,
    ...representSeries(parseSeriesKey(row.series)),
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
