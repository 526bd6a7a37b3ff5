import type { OnsetRule } from '../types.ts'

/** The resting level before a contraction. */
export interface Baseline {
  readonly levelNm: number
  readonly sdNm: number
}

/**
 * Resting torque before a contraction: the stretch of `windowMs` with the smallest spread in the 2 s before it.
 *
 * Conventions: sample SD (n - 1); running sums about the first value, so linear in time. null where less than one window
 * lies before the contraction. Units: N.m, tested sign.
 * What for: an onset is a rise above rest, and rest is not zero (limb weight, pre-tension). Errors: none. Source:
 * engineering choice; the problem in Maffiuletti et al. 2016, Eur J Appl Physiol 116:1091-1116. Limits: steady
 * pre-tension looks like rest.
 *
 * @example restingTorque(torque, 1, 0, 1500, 1000) // { levelNm: 0.02, sdNm: 0.4 }
 */
export function restingTorque(
  torqueNm: Float64Array,
  testedSign: 1 | -1,
  earliest: number,
  contraction: number,
  sampleRateHz: number,
  windowMs = 200,
): Baseline | null {
  const width = Math.round((windowMs / 1000) * sampleRateHz)
  const begin = Math.max(earliest, contraction - 2 * Math.round(sampleRateHz))
  if (width < 2 || contraction - begin < width) return null
  const shift = torqueNm[begin]!
  let sum = 0
  let squares = 0
  let best: Baseline | null = null
  for (let i = begin; i < contraction; i++) {
    const value = torqueNm[i]! - shift
    sum += value
    squares += value * value
    if (i - begin >= width) {
      const gone = torqueNm[i - width]! - shift
      sum -= gone
      squares -= gone * gone
    }
    if (i - begin < width - 1) continue
    const sdNm = Math.sqrt(Math.max(0, (squares - (sum * sum) / width) / (width - 1)))
    if (best === null || sdNm < best.sdNm) best = { levelNm: testedSign * (shift + sum / width), sdNm }
  }
  return best
}

/**
 * Onset of a contraction: the last sample, walking back from `from`, that is not above the resting level by the rule.
 *
 * Rules: `absolute` (rise in N.m), `fraction_of_peak` (per cent of peak above rest), `baseline_deviation` (standard
 * deviations of the resting torque, at least so many N.m). The rule moves every rate and time that starts here: store it.
 * null where rest is never reached before `earliest`. Source of the problem: Maffiuletti et al. 2016, Eur J Appl Physiol
 * 116:1091-1116; thresholds 0.1, 1 and 5 N.m compared by White 2024, Sensors 24:4250.
 * What for: where every time and rate of an isometric test begins. Units: N.m, samples. Errors: none. Limits: on
 * filtered torque the onset comes too early.
 *
 * @example torqueOnset(torque, 1, { kind: 'absolute', riseNm: 1 }, { levelNm: 0, sdNm: 0 }, 200, 0, 1600) // 1500
 */
export function torqueOnset(
  torqueNm: Float64Array,
  testedSign: 1 | -1,
  rule: OnsetRule,
  baseline: Baseline,
  peakNm: number,
  earliest: number,
  from: number,
): number | null {
  const threshold = baseline.levelNm + riseNm(rule, baseline, peakNm)
  for (let i = from; i >= earliest; i--) if (testedSign * torqueNm[i]! <= threshold) return i
  return null
}

function riseNm(rule: OnsetRule, baseline: Baseline, peakNm: number): number {
  switch (rule.kind) {
    case 'absolute':
      return rule.riseNm
    case 'fraction_of_peak':
      return (rule.percent / 100) * (peakNm - baseline.levelNm)
    case 'baseline_deviation':
      return Math.max(rule.atLeastNm, rule.standardDeviations * baseline.sdNm)
  }
}
