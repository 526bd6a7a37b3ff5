import type { AnalysisParameters, MeasureName } from './types.ts'

/** Stamped on every stored result. Any change that moves a number raises it. */
export const COMPUTE_VERSION = '1.0.0'

/**
 * What makes two stored values of a measure the same kind of number. Raised for ONE measure only when that measure's
 * numbers move, so that a release does not split every trend.
 */
export const MEASURE_REVISION: Readonly<Record<MeasureName | 'torqueAtAngle', number>> = {
  peakTorque: 1,
  angleOfPeakTorque: 1,
  torqueAtAngle: 1,
  workPerRepetition: 1,
  totalWork: 1,
  averagePower: 1,
  peakPower: 1,
  timeToPeakTorque: 1,
  rateOfTorqueDevelopment: 1,
  impulse: 1,
  rangeOfMotion: 1,
  loadRange: 1,
  loadRangeDuration: 1,
  peakTorquePerBodyMass: 1,
  workPerBodyMass: 1,
  averagePowerPerBodyMass: 1,
  fatigueIndexEdges: 1,
  workFatigueThirds: 1,
  fatigueSlope: 1,
  isometricPlateauTorque: 1,
}

/**
 * Canonical text of the analysis parameters: the same choices give the same bytes, whatever the order of the keys.
 *
 * What for: the string whose SHA-256 (made outside, this core imports nothing) says "computed with the same choices".
 * Form: JSON with keys sorted by UTF-16 code unit at every level, arrays in their order, numbers as ECMAScript prints
 * them, no white space. For this plain content that is RFC 8785. Negative zero prints as 0.
 * Errors: RangeError for a number that is not finite or a value that is not plain JSON.
 * Source: RFC 8785 (JSON Canonicalization Scheme). Limits: plain JSON only. When not to use it: for documents with
 * numbers that other languages print differently.
 *
 * @example canonicalParameters({ ...DEFAULT_PARAMETERS }).slice(0, 15) // '{"edgePercent":'
 */
export function canonicalParameters(parameters: AnalysisParameters): string {
  return canonical(parameters)
}

function canonical(value: unknown): string {
  if (value === null || typeof value === 'boolean' || typeof value === 'string') return JSON.stringify(value)
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new RangeError('parameters must be finite numbers')
    return JSON.stringify(value)
  }
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`
  if (typeof value === 'object') {
    const entries = Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1))
    return `{${entries.map(([key, item]) => `${JSON.stringify(key)}:${canonical(item)}`).join(',')}}`
  }
  throw new RangeError('parameters must be plain JSON')
}
