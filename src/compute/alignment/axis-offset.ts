import { chiSquareQuantile, leastSquares, normalQuantile } from '../numeric/index.ts'
import { misalignment } from './linkage.ts'
import type { AxisOffset } from './linkage.ts'

export interface PadReading {
  readonly kneeAngleDeg: number
  /** Pad on the arm: along the shin, growing away from the knee. Pad on the shin: along the arm, growing away from the axis. */
  readonly padPositionMm: number
}

export interface AxisCheckReadings {
  readonly readings: readonly PadReading[]
  /** Standard deviation of one reading. */
  readonly readingErrorMm: number | null
  readonly padMountedOn: 'arm' | 'shin'
  /** Arm: lever arm. Shin: pad to knee axis. null: unknown, fitted. */
  readonly distanceMm: number | null
  /**
   * Where the scale of the readings begins, measured from the knee axis (arm) or machine axis (shin): 0 for readings taken from
   * there; null for a mark on the skin whose distance nobody knows.
   */
  readonly scaleStartMm: number | null
}

export interface AxisMove {
  /** Either moves; their directions are opposite, so both are named. */
  readonly seat: 'forward' | 'back' | 'up' | 'down'
  readonly machine: 'forward' | 'back' | 'up' | 'down'
  readonly byMm: number
}

export type AxisOffsetEstimate =
  | {
      readonly verdict: 'within_tolerance' | 'beyond_tolerance' | 'cannot_tell'
      /** Why the verdict cannot be given; null where it can. */
      readonly reason: 'interval_reaches_tolerance' | 'readings_disagree' | null
      readonly forwardMm: number
      readonly upMm: number
      readonly confidence: number
      /** Half width of the interval, of the wider component. */
      readonly halfWidthMm: number
      readonly forwardHalfWidthMm: number
      readonly upHalfWidthMm: number
      /** What moves which way, only where the offset is beyond tolerance. */
      readonly move: readonly AxisMove[] | null
    }
  | {
      readonly verdict: 'cannot_tell'
      readonly reason:
        | 'reading_error_unknown'
        | 'readings_not_usable'
        | 'distance_unknown'
        | 'too_few_angles'
        | 'angles_do_not_separate'
        | 'no_solution'
      readonly forwardMm: null
      readonly upMm: null
      readonly move: null
    }

/** Offsets up to this change between sessions are tolerated by default; common practice, no source. */
export const AXIS_TOLERANCE_MM = 10

/**
 * Axis offset from pad positions at angles: how far the knee axis lies from the machine's axis, with its interval.
 *
 * What for: while the limb is moved by hand the pad rides up and down the shin if the axes do not agree; its positions at several
 * angles tell by how much and which way. Formula: least squares of the linkage (see linkage.ts), Gauss-Newton from no offset; the
 * covariance is readingError^2 (J'J)^-1, the half width z x its root. Unknown besides (forward, up): the start of the scale, if it
 * is a mark at unknown distance; or the distance of the pad, if that is unknown; not both, which no reading can tell apart.
 *
 * Verdict: the size of the offset and the half width against the tolerance. Only where the whole interval lies on one side is it
 * within_tolerance or beyond_tolerance; else cannot_tell. With more readings than unknowns, readings that scatter more than the
 * stated error allows (chi-square, 95 %) leave cannot_tell too: then a reading, an angle or the stated error is wrong.
 *
 * Units: mm, deg; knee angle as by goniometer or after anatomical zero, thigh level. Errors: RangeError for a tolerance or confidence that
 * cannot be; unusable data is cannot_tell with a reason. Source: derived.
 * Limits: three angles and an unknown mark magnify the reading error threefold: ask for five. Two readings cannot tell 20 mm forward
 * and 20 mm down from no offset at all. It checks the setup at rest, not the axis under load.
 *
 * @example
 * const positions = [[90, 212], [45, 210], [0, 211]].map(([kneeAngleDeg, padPositionMm]) => ({ kneeAngleDeg, padPositionMm }))
 * estimateAxisOffset({ readings: positions, readingErrorMm: 1, padMountedOn: 'arm', distanceMm: 300, scaleStartMm: null })
 * // forward 4.2, up -3.2, half width 6.1: cannot_tell, interval_reaches_tolerance
 */
export function estimateAxisOffset(
  check: AxisCheckReadings,
  toleranceMm: number = AXIS_TOLERANCE_MM,
  confidence = 0.95,
): AxisOffsetEstimate {
  if (!(Number.isFinite(toleranceMm) && toleranceMm > 0))
    throw new RangeError(`a tolerance must be positive, got ${toleranceMm}`)
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`a confidence lies between 0 and 1, got ${confidence}`)
  const { readings, readingErrorMm, distanceMm, scaleStartMm } = check
  if (readingErrorMm === null || !(Number.isFinite(readingErrorMm) && readingErrorMm > 0))
    return without('reading_error_unknown')
  const numbers = [...readings.flatMap((r) => [r.kneeAngleDeg, r.padPositionMm]), distanceMm ?? 1, scaleStartMm ?? 0]
  if (!numbers.every((n) => Number.isFinite(n) && Math.abs(n) < 1e4) || (distanceMm !== null && distanceMm <= 0)) {
    return without('readings_not_usable')
  }
  if (distanceMm === null && scaleStartMm === null) return without('distance_unknown')
  const unknowns = distanceMm === null || scaleStartMm === null ? 3 : 2
  if (new Set(readings.map((r) => r.kneeAngleDeg)).size < unknowns) return without('too_few_angles')

  const solution = solve(check)
  if (typeof solution === 'string') return without(solution)
  const { offset, varianceFactors, residualSumOfSquares, degreesOfFreedom } = solution
  const z = normalQuantile(0.5 + confidence / 2)
  const forwardHalfWidthMm = z * readingErrorMm * Math.sqrt(varianceFactors[0]!)
  const upHalfWidthMm = z * readingErrorMm * Math.sqrt(varianceFactors[1]!)
  const halfWidthMm = Math.max(forwardHalfWidthMm, upHalfWidthMm)

  const disagree =
    degreesOfFreedom > 0 && residualSumOfSquares / readingErrorMm ** 2 > chiSquareQuantile(0.95, degreesOfFreedom)
  const size = Math.hypot(offset.forwardMm, offset.upMm)
  const verdict = disagree
    ? 'cannot_tell'
    : size + halfWidthMm <= toleranceMm
      ? 'within_tolerance'
      : size - halfWidthMm > toleranceMm
        ? 'beyond_tolerance'
        : 'cannot_tell'
  return {
    verdict,
    reason: disagree ? 'readings_disagree' : verdict === 'cannot_tell' ? 'interval_reaches_tolerance' : null,
    ...offset,
    confidence,
    halfWidthMm,
    forwardHalfWidthMm,
    upHalfWidthMm,
    move: verdict === 'beyond_tolerance' ? movesFor(offset, halfWidthMm) : null,
  }
}

/**
 * Correction of an axis offset in words of what moves: the seat, or the machine the other way.
 *
 * A component is named where it exceeds `ignoreBelowMm`, and the larger of the two always is. The same for both sides of the body: forward
 * and up do not change when a limb is mirrored.
 * What for: an offset of the knee axis says where the axis is, not what to move; seat and machine move in opposite
 * directions. Units: mm. Errors: none; no offset at all gives one move of 0 mm. Source: derived. Limits: says nothing
 * where the offset itself is uncertain; `estimateAxisOffset` gives moves only beyond tolerance.
 *
 * @example movesFor({ forwardMm: 20, upMm: -3 }, 6) // [{ seat: 'back', machine: 'forward', byMm: 20 }]
 */
export function movesFor(offset: AxisOffset, ignoreBelowMm: number): readonly AxisMove[] {
  const moves: AxisMove[] = []
  const [forward, up] = [Math.abs(offset.forwardMm), Math.abs(offset.upMm)]
  if (forward > ignoreBelowMm || forward >= up) {
    const ahead = offset.forwardMm > 0
    moves.push({ seat: ahead ? 'back' : 'forward', machine: ahead ? 'forward' : 'back', byMm: forward })
  }
  if (up > ignoreBelowMm || up > forward) {
    const above = offset.upMm > 0
    moves.push({ seat: above ? 'down' : 'up', machine: above ? 'up' : 'down', byMm: up })
  }
  return moves
}

type Reason = Extract<AxisOffsetEstimate, { forwardMm: null }>['reason']

function without(reason: Reason): AxisOffsetEstimate {
  return { verdict: 'cannot_tell', reason, forwardMm: null, upMm: null, move: null }
}

interface Solution {
  readonly offset: AxisOffset
  readonly varianceFactors: readonly number[]
  readonly residualSumOfSquares: number
  readonly degreesOfFreedom: number
}

/** Gauss-Newton. The linkage is almost linear in the offset, so a handful of steps reach the last bit. */
function solve(check: AxisCheckReadings): Solution | Reason {
  const { readings, padMountedOn, distanceMm, scaleStartMm } = check
  // NaN where the linkage cannot be closed
  const predict = (p: readonly number[], kneeAngleDeg: number): number => {
    const [forwardMm = 0, upMm = 0, third = 0] = p
    const distance = distanceMm ?? third
    if (!(distance > 0)) return NaN
    const point = misalignment({ forwardMm, upMm }, padMountedOn, distance, kneeAngleDeg)
    return point === null ? NaN : point.padDistanceMm - (scaleStartMm ?? third)
  }
  const mean = readings.reduce((total, reading) => total + reading.padPositionMm, 0) / readings.length
  let p: number[] = [0, 0]
  if (distanceMm === null) p.push(mean + (scaleStartMm ?? 0))
  else if (scaleStartMm === null) p.push(distanceMm - mean)
  for (let step = 0; step < 60; step++) {
    const design: number[][] = []
    const residuals: number[] = []
    for (const reading of readings) {
      const here = predict(p, reading.kneeAngleDeg)
      const row = p.map((_, j) => slope(predict, p, j, reading.kneeAngleDeg))
      if (![here, ...row].every(Number.isFinite)) return 'no_solution'
      residuals.push(reading.padPositionMm - here)
      design.push(row)
    }
    const fit = leastSquares(design, residuals)
    if (fit === null) return 'angles_do_not_separate'
    const converged = fit.coefficients.every((change) => Math.abs(change) < 1e-9)
    if (converged) {
      return {
        offset: { forwardMm: p[0] ?? 0, upMm: p[1] ?? 0 },
        varianceFactors: fit.varianceFactors,
        residualSumOfSquares: fit.residualSumOfSquares,
        degreesOfFreedom: fit.degreesOfFreedom,
      }
    }
    p = p.map((value, j) => value + (fit.coefficients[j] ?? 0))
  }
  return 'no_solution'
}

/** Central difference over 2 micrometres: exact to about ten digits on lengths of a metre. */
function slope(
  predict: (p: readonly number[], angle: number) => number,
  p: readonly number[],
  j: number,
  angle: number,
): number {
  const h = 1e-3
  const moved = (by: number): number =>
    predict(
      p.map((value, k) => (k === j ? value + by : value)),
      angle,
    )
  return (moved(h) - moved(-h)) / (2 * h)
}
