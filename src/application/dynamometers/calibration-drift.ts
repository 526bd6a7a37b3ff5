import { driftLimitOnRecord } from '../../domain/calibration-document.ts'
import type { CalibrationRow } from '../../store/dynamometer-store.ts'

/** Read against expected torque, N.m and per cent of what was expected; positive: the machine reads too much. */
export function calibrationDrift({
  expectedTorqueNm,
  readTorqueNm,
}: Pick<CalibrationRow, 'expectedTorqueNm' | 'readTorqueNm'>) {
  const differenceNm = readTorqueNm - expectedTorqueNm
  return { differenceNm, percent: (100 * differenceNm) / expectedTorqueNm }
}

/** What the check allowed and was not kept to; null: within it, or the clinic named no limit. */
export function driftBeyondLimit(
  row: CalibrationRow,
): { readonly percent: number; readonly largestPercent: number } | null {
  const largestPercent = driftLimitOnRecord.parse(row.document).largestDrift?.canonicalValue
  const { percent } = calibrationDrift(row)
  return largestPercent === undefined || Math.abs(percent) <= largestPercent ? null : { percent, largestPercent }
}
