import type { ReasonCode } from '../types.ts'

/** A stretch of time, seconds. */
export interface Interval {
  readonly startS: number
  readonly endS: number
}

export interface TimeBase {
  readonly sampleRateHz: number
  readonly startS: number
  /** Samples of the even grid. */
  readonly length: number
  /** false: the samples already lie on the grid. */
  readonly uneven: boolean
  readonly duplicates: number
  /** Longer than the gap allowed: whatever lies here was not measured. */
  readonly gaps: readonly Interval[]
}

/**
 * What the time stamps say: the rate, whether they are even, and where samples are missing.
 *
 * The rate is one over the mean of the intervals that are not gaps (at most three typical intervals long; typical = the
 * median of up to 1001 intervals across the recording, so that long recordings stay linear). Even means that no sample
 * lies further from the grid than `unevenPercent` of an interval.
 * Bad data are reasons: `too_few_samples`, `time_not_finite`, `time_not_monotonic`, `sample_rate_out_of_range`,
 * `too_many_samples_missing` (the even grid would be more than twice as long as what was measured).
 * What for: filters and derivatives need an even grid. Units: s, ms, Hz. Errors: none. Source: engineering choice, no
 * source. Limits: a clock that runs fast or slow throughout cannot be seen.
 *
 * @example readTimeBase(Float64Array.of(0, 0.01, 0.02, ...), limits) // { sampleRateHz: 100, uneven: false, ... }
 */
export function readTimeBase(
  timeS: Float64Array,
  limits: {
    readonly minimumSampleRateHz: number
    readonly maximumSampleRateHz: number
    readonly unevenPercent: number
    readonly maximumGapMs: number
  },
): TimeBase | { readonly refused: ReasonCode } {
  const n = timeS.length
  if (n < 10) return { refused: 'too_few_samples' }
  let duplicates = 0
  let previous = -Infinity
  for (let i = 0; i < n; i++) {
    const t = timeS[i]!
    if (!Number.isFinite(t)) return { refused: 'time_not_finite' }
    if (t < previous) return { refused: 'time_not_monotonic' }
    if (t === previous) duplicates += 1
    previous = t
  }
  if (n - duplicates < 10) return { refused: 'too_few_samples' }

  const typical = typicalInterval(timeS)
  let sum = 0
  let count = 0
  for (let i = 1; i < n; i++) {
    const step = timeS[i]! - timeS[i - 1]!
    if (step > 0 && step <= 3 * typical) {
      sum += step
      count += 1
    }
  }
  const interval = sum / count
  const rate = 1 / interval
  // Stamps carry rounding: 0.001 s written in binary must not make 5000 Hz "5000.0000000001".
  const slack = 1e-6
  if (rate < limits.minimumSampleRateHz * (1 - slack) || rate > limits.maximumSampleRateHz * (1 + slack)) {
    return { refused: 'sample_rate_out_of_range' }
  }

  const startS = timeS[0]!
  const length = Math.round((timeS[n - 1]! - startS) * rate) + 1
  if (length > 2 * n) return { refused: 'too_many_samples_missing' }
  const longestS = limits.maximumGapMs / 1000 + interval * 1.001
  const gaps: Interval[] = []
  let furthest = 0
  for (let i = 1; i < n; i++) {
    const t = timeS[i]!
    if (t - timeS[i - 1]! > longestS) gaps.push({ startS: timeS[i - 1]!, endS: t })
    const off = Math.abs((t - startS) * rate - i)
    if (off > furthest) furthest = off
  }
  const uneven = duplicates > 0 || length !== n || furthest > limits.unevenPercent / 100
  return { sampleRateHz: rate, startS, length, uneven, duplicates, gaps }
}

function typicalInterval(timeS: Float64Array): number {
  const n = timeS.length
  // An odd stride does not fall in step with a two-sample pattern of the time stamps.
  const stride = Math.max(1, Math.floor(n / 1001)) | 1
  const steps: number[] = []
  for (let i = 1; i < n; i += stride) {
    const step = timeS[i]! - timeS[i - 1]!
    if (step > 0) steps.push(step)
  }
  steps.sort((a, b) => a - b)
  return steps[Math.floor(steps.length / 2)] ?? Number.MIN_VALUE
}

/**
 * Values at the points of the even grid, by straight lines between the samples (a repeated stamp is a jump: its
 * last value holds from there).
 *
 * Limits: a straight line lowers what lies above about a quarter of the sample rate; torque and angle have nothing there.
 * What for: uneven stamps onto the grid of `readTimeBase`. Units: s, Hz, those of the values. Errors: none. Source:
 * linear interpolation.
 *
 * @example resampleEvenly(Float64Array.of(0, 1, 3), Float64Array.of(0, 10, 30), { sampleRateHz: 1, startS: 0, length: 4 }) // [0, 10, 20, 30]
 */
export function resampleEvenly(
  timeS: Float64Array,
  values: Float64Array,
  grid: { readonly sampleRateHz: number; readonly startS: number; readonly length: number },
): Float64Array {
  const out = new Float64Array(grid.length)
  const last = timeS.length - 1
  let left = 0
  for (let i = 0; i < grid.length; i++) {
    const t = Math.min(grid.startS + i / grid.sampleRateHz, timeS[last]!)
    while (left < last - 1 && timeS[left + 1]! <= t) left += 1
    const width = timeS[left + 1]! - timeS[left]!
    const part = width > 0 ? (t - timeS[left]!) / width : 0
    out[i] = values[left]! + part * (values[left + 1]! - values[left]!)
  }
  return out
}
