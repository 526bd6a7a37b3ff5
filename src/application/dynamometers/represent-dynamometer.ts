import type { CalibrationRow, DynamometerRow } from '../../store/dynamometer-store.ts'
import { calibrationDrift } from './calibration-drift.ts'

export function representDynamometer(row: DynamometerRow) {
  return {
    id: row.id,
    descriptionVersion: row.version,
    ...(row.document as object),
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type DynamometerRepresentation = ReturnType<typeof representDynamometer>

/** Expected against read: the drift is a difference and a share of what was expected. */
export function representCalibration(row: CalibrationRow) {
  const drift = calibrationDrift(row)
  return {
    id: row.id,
    dynamometerId: row.dynamometerId,
    ...(row.document as object),
    expectedTorque: { value: row.expectedTorqueNm, unit: 'N.m' },
    drift: { value: drift.differenceNm, unit: 'N.m' },
    relativeDrift: { value: drift.percent, unit: '%' },
    nextDueOn: row.nextDueOn,
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type CalibrationRepresentation = ReturnType<typeof representCalibration>
