import type { Measured, ReasonCode } from '../types.ts'
import type { BetterWhen } from './types.ts'

/** Stands beside every distance. */
export const THRESHOLD_NOTE = 'Recent pace and distance, no date: recovery usually slows.'

export interface ThresholdDistance {
  readonly threshold: number
  /** Still to go when positive, beyond it when negative, 0 exactly on it; null with a reason. */
  readonly distance: number | null
  readonly reason: ReasonCode | null
  readonly note: string
}

/**
 * Distance from the latest value to a threshold. Never a date.
 *
 * Formula in words: threshold - value where higher is better, value - threshold where lower is. No rounding. Units: those of the measure.
 * Why no date: recovery slows. A line through months 3 to 6 of the invented curve 100 - 60 exp(-t / 5) reaches 90 at month 7.5, the curve at month 9.
 * Whether exactly on the threshold meets a criterion is the criterion's comparator, not decided here. Errors: RangeError.
 * Source: arithmetic; the curve is invented.
 * What for: how far a value is from where it is meant to be. Limits: a distance, never a date.
 *
 * @example distanceToThreshold({ latest: { value: 158.9 }, threshold: 176.3, betterWhen: 'higher' }).distance // 17.4
 */
export function distanceToThreshold(input: {
  readonly latest: Measured
  readonly threshold: number
  readonly betterWhen: BetterWhen
}): ThresholdDistance {
  const { latest, threshold, betterWhen } = input
  if (!Number.isFinite(threshold)) throw new RangeError('threshold is a finite number')
  if (latest.value === null) return { threshold, distance: null, reason: latest.reason, note: THRESHOLD_NOTE }
  if (!Number.isFinite(latest.value)) throw new RangeError('latest is a finite number')
  const distance = betterWhen === 'higher' ? threshold - latest.value : latest.value - threshold
  return { threshold, distance, reason: null, note: THRESHOLD_NOTE }
}
