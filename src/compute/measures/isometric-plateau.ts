/**
 * Isometric plateau torque: the highest mean over a window of `windowMs` in which the torque stays within
 * `maximumSpreadPercent` (largest minus smallest, per cent of the mean).
 *
 * What for: a held effort, as against one instant of it. null: nothing was held that steadily (or that long).
 * Units: N.m, tested sign. Rule: common practice, no source; stored with the result. Linear in time (monotone queues).
 * Errors: none; a window of fewer than 2 samples is null. Limits: depends on window and spread, so compare only
 * values of one rule. When not to use it: for an explosive effort that was not held.
 *
 * @example isometricPlateauNm(rise, 1 s at 150 N.m, fall; 1, 0, end, 1000, { windowMs: 500, maximumSpreadPercent: 10 }) // 150
 */
export function isometricPlateauNm(
  torqueNm: Float64Array,
  testedSign: 1 | -1,
  from: number,
  to: number,
  sampleRateHz: number,
  rule: { readonly windowMs: number; readonly maximumSpreadPercent: number },
): number | null {
  const width = Math.round((rule.windowMs / 1000) * sampleRateHz)
  if (width < 2 || to - from + 1 < width) return null
  const size = to - from + 1
  const highs = new Int32Array(size)
  const lows = new Int32Array(size)
  let highHead = 0
  let highTail = 0
  let lowHead = 0
  let lowTail = 0
  let sum = 0
  let best: number | null = null
  for (let i = from; i <= to; i++) {
    const value = testedSign * torqueNm[i]!
    sum += value
    while (highTail > highHead && testedSign * torqueNm[highs[highTail - 1]!]! <= value) highTail -= 1
    highs[highTail++] = i
    while (lowTail > lowHead && testedSign * torqueNm[lows[lowTail - 1]!]! >= value) lowTail -= 1
    lows[lowTail++] = i
    const first = i - width + 1
    if (first < from) continue
    if (first > from) sum -= testedSign * torqueNm[first - 1]!
    if (highs[highHead]! < first) highHead += 1
    if (lows[lowHead]! < first) lowHead += 1
    const mean = sum / width
    const spread = testedSign * (torqueNm[highs[highHead]!]! - torqueNm[lows[lowHead]!]!)
    if (mean > 0 && spread <= (rule.maximumSpreadPercent / 100) * mean && (best === null || mean > best)) best = mean
  }
  return best
}
