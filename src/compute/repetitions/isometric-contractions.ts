import type { AnalysisParameters } from '../types.ts'

/** A held contraction, in samples, ends included. */
export interface Contraction {
  readonly from: number
  readonly to: number
}

/**
 * Isometric contractions in one direction: torque (tested sign) above `contractionPercentOfLargest` of the largest and
 * above a floor, until it falls below half of that, for at least `minimumDurationMs`.
 *
 * Two thresholds, so that a tremor at the level does not cut a contraction in two. Linear in time. Units: N.m, ms.
 * Engineering choice, no source.
 * What for: the efforts of a set, each to be measured by itself. Errors: none; no torque in the direction is an empty
 * list. Limits: an effort below the level, after a much larger one, is not found.
 *
 * @example findContractions(twoContractions, 1, 1000, DEFAULT_PARAMETERS.isometric).length // 2
 */
export function findContractions(
  torqueNm: Float64Array,
  sign: 1 | -1,
  sampleRateHz: number,
  rule: Pick<
    AnalysisParameters['isometric'],
    'contractionPercentOfLargest' | 'contractionFloorNm' | 'minimumDurationMs'
  >,
): Contraction[] {
  let largest = 0
  for (let i = 0; i < torqueNm.length; i++) largest = Math.max(largest, sign * torqueNm[i]!)
  const on = Math.max(rule.contractionFloorNm, (rule.contractionPercentOfLargest / 100) * largest)
  const off = on / 2
  const contractions: Contraction[] = []
  let from = -1
  for (let i = 0; i <= torqueNm.length; i++) {
    const torque = i < torqueNm.length ? sign * torqueNm[i]! : -Infinity
    if (from < 0 && torque >= on) from = i
    if (from >= 0 && torque < off) {
      if ((1000 * (i - from)) / sampleRateHz >= rule.minimumDurationMs) contractions.push({ from, to: i - 1 })
      from = -1
    }
  }
  return contractions
}
