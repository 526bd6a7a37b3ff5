import type { Interval } from './time-base.ts'

/**
 * Replaces values that are not finite, or larger than `largest`, by straight lines between their neighbours (at the ends: the nearest value).
 *
 * What for: one lost sample must not cost a repetition, and no NaN (or 1e308 where a device writes "none") may reach a filter,
 * which would spread it over the recording.
 * Runs longer than `maximumGapMs` are filled too, so that the arithmetic stays finite, but are returned as `gaps`.
 * `filled` counts the samples replaced. Nothing usable at all: `values` is null.
 * Units: those of the signal; Hz, ms. Errors: none. Source: engineering choice, no source. Limits: a straight line is
 * no measurement; longer holes are said.
 *
 * @example fillMissing(Float64Array.of(1, NaN, 3), 1000, 20) // { values: [1, 2, 3], filled: 1, gaps: [] }
 */
export function fillMissing(
  signal: Float64Array,
  sampleRateHz: number,
  maximumGapMs: number,
  largest = Number.MAX_VALUE,
): { readonly values: Float64Array | null; readonly filled: number; readonly gaps: readonly Interval[] } {
  const n = signal.length
  // Written so that NaN is not usable.
  const usable = (i: number) => Math.abs(signal[i]!) <= largest
  const gaps: Interval[] = []
  let values = signal
  let filled = 0
  let i = 0
  while (i < n) {
    if (usable(i)) {
      i += 1
      continue
    }
    let next = i
    while (next < n && !usable(next)) next += 1
    if (next - i === n) return { values: null, filled: n, gaps: [{ startS: 0, endS: n / sampleRateHz }] }
    if (values === signal) values = signal.slice()
    const before = i > 0 ? values[i - 1]! : signal[next]!
    const after = next < n ? signal[next]! : before
    for (let j = i; j < next; j++) values[j] = before + ((after - before) * (j - i + 1)) / (next - i + 1)
    filled += next - i
    if ((1000 * (next - i)) / sampleRateHz > maximumGapMs) {
      gaps.push({ startS: (i - 1) / sampleRateHz, endS: next / sampleRateHz })
    }
    i = next
  }
  return { values, filled, gaps }
}
