import type { AnalysisParameters, ReasonCode } from '../types.ts'
import type { LimbMovement } from './find-movements.ts'

/** The phases of one movement, in samples, ends included. */
export interface Phases {
  /** First and last sample of the limb in motion (faster than 5 % of the set velocity). */
  readonly onset: number
  readonly end: number
  readonly loadStart: number
  readonly loadEnd: number
  /**
   * Where the band was entered and left between samples: parts (0 to 1) of the sample interval before loadStart and of the
   * one after loadEnd that still belong to the range. At 100 Hz and 300 deg/s one interval is 3 deg.
   */
  readonly startPart: number
  readonly endPart: number
  /** The part of the load range after the limb has settled at its speed and before it leaves it: see settledPart. */
  readonly settledStart: number
  readonly settledEnd: number
  /** The limb outran the band before it settled: a brake's impact follows. */
  readonly overshoot: boolean
}

/**
 * First and last sample of a movement in which the limb moves: out from where it first and last exceeds half the set
 * velocity, down to 5 % of it, so that rest with a drifting or noisy velocity at either end does not belong to it.
 *
 * null: half the set velocity (`minimumPercentOfSetVelocity`) is never reached; that is positioning, not an attempt.
 * What for: onset of the time to peak torque, and the full range of work. Units: deg/s, samples. Errors: none.
 * Source: engineering choice, no source.
 * Limits: a pause inside the movement belongs to it.
 *
 * @example movingPart(trapezoid of 60 deg/s from sample 400 on, movement, 60, 50)?.onset // 402
 */
export function movingPart(
  velocityDegS: Float64Array,
  { sign, from, to }: LimbMovement,
  setDegS: number,
  minimumPercentOfSetVelocity: number,
): { readonly onset: number; readonly end: number } | null {
  const fast = (minimumPercentOfSetVelocity / 100) * setDegS
  const slow = 0.05 * setDegS
  let first = from
  while (first <= to && sign * velocityDegS[first]! < fast) first += 1
  if (first > to) return null
  let last = to
  while (sign * velocityDegS[last]! < fast) last -= 1
  while (first > from && sign * velocityDegS[first - 1]! > slow) first -= 1
  while (last < to && sign * velocityDegS[last + 1]! > slow) last += 1
  return { onset: first, end: last }
}

/**
 * Load range: the longest stretch of a movement at the set velocity, overshoot and impact kept out.
 *
 * In: velocity within `bandPercent` of the set velocity, above or below. Dropouts up to `bridgeMs` are bridged when the
 * stretch before them is at least as long, and dropouts ABOVE the band only after `minimumDurationMs`: a limb that shoots
 * through the band into an overshoot has not begun its load range. The result must span the smaller of `minimumRangeDeg`
 * and `minimumPercentOfMotion` of the range of motion, and last `minimumDurationMs`; else the reason `no_load_range`.
 * `allowedDeg`: joint angles outside are never in (where a passive sweep does not reach).
 *
 * Units: deg, deg/s, ms. Limits: at high set velocity or short range there may be none, and then torque there is inertia,
 * not strength. Source: phases after Findley et al. 2006, J Sports Sci Med 5:400-6; the 5 % band is common practice (from
 * memory), the minimum and the bridge an engineering choice.
 * What for: outside of it torque is inertia and impact. Errors: none; too short a range is a reason.
 *
 * @example findLoadRange(trapezoid 180 deg/s, 2000 deg/s2, 90 deg, ...) // spans 75.4 deg
 */
export function findLoadRange(
  velocityDegS: Float64Array,
  angleDeg: Float64Array,
  movement: LimbMovement,
  moving: { readonly onset: number; readonly end: number },
  setDegS: number,
  sampleRateHz: number,
  rule: AnalysisParameters['loadRange'],
  allowedDeg: readonly [number, number] | null,
): Phases | { readonly refused: ReasonCode } {
  const { sign, rangeDeg } = movement
  const low = setDegS * (1 - rule.bandPercent / 100)
  const high = setDegS * (1 + rule.bandPercent / 100)
  const toSamples = (ms: number) => (ms / 1000) * sampleRateHz
  const bridge = toSamples(rule.bridgeMs) + 1e-9
  const shortest = toSamples(rule.minimumDurationMs)

  let best: readonly [number, number] | null = null
  let start = -1
  let last = -1
  let above = false
  const close = () => {
    if (start >= 0 && (best === null || last - start > best[1] - best[0])) best = [start, last]
  }
  for (let i = moving.onset; i <= moving.end; i++) {
    const velocity = sign * velocityDegS[i]!
    const angle = angleDeg[i]!
    const allowed = allowedDeg === null || (angle >= allowedDeg[0] && angle <= allowedDeg[1])
    if (!allowed || velocity < low || velocity > high) {
      above ||= velocity > high
      if (!allowed) {
        close()
        start = -1
      }
      continue
    }
    const dropout = i - last - 1
    const before = last - start + 1
    const bridged = start >= 0 && (dropout === 0 || (dropout <= bridge && before >= (above ? shortest : bridge)))
    if (!bridged) {
      close()
      start = i
    }
    last = i
    above = false
  }
  close()

  if (best === null) return { refused: 'no_load_range' }
  const [loadStart, loadEnd] = best as readonly [number, number]
  const crossing = (inside: number, outside: number) =>
    outside < moving.onset || outside > moving.end
      ? 0
      : partInsideBand(sign * velocityDegS[inside]!, sign * velocityDegS[outside]!, low, high)
  const startPart = crossing(loadStart, loadStart - 1)
  const endPart = crossing(loadEnd, loadEnd + 1)
  const spanDeg = loadRangeDeg(angleDeg, { loadStart, loadEnd, startPart, endPart })
  const requiredDeg = Math.min(rule.minimumRangeDeg, (rule.minimumPercentOfMotion / 100) * rangeDeg)
  // A whole number of sample intervals must not fall short of itself by rounding.
  if (spanDeg < requiredDeg - 1e-9 || loadEnd - loadStart + startPart + endPart < shortest - 1e-6)
    return { refused: 'no_load_range' }

  const settled = settledPart(velocityDegS, sign, loadStart, loadEnd, sampleRateHz, rule)
  let overshoot = false
  for (let i = moving.onset; i < settled.settledStart && !overshoot; i++) overshoot = sign * velocityDegS[i]! > high
  return { ...moving, loadStart, loadEnd, startPart, endPart, ...settled, overshoot }
}

/** How far, of the step from a sample inside the band to its neighbour outside, the velocity stays in the band. */
function partInsideBand(inside: number, outside: number, low: number, high: number): number {
  const edge = outside < low ? low : outside > high ? high : null
  // Outside for another reason (beyond a passive sweep): nothing is known between the samples.
  return edge === null ? 0 : (edge - inside) / (outside - inside)
}

/**
 * Degrees travelled in a load range, to where the band was entered and left.
 *
 * What for: the length that decides whether there is a load range, and a measure. Units: samples, deg. Errors: none.
 * Source: linear interpolation of the edge. Limits: a motion that turns inside the range counts from end to end only.
 *
 * @example loadRangeDeg(Float64Array.of(90, 87, 84, 81), { loadStart: 1, loadEnd: 2, startPart: 0.5, endPart: 0 }) // 4.5
 */
export function loadRangeDeg(
  angleDeg: Float64Array,
  { loadStart, loadEnd, startPart, endPart }: Pick<Phases, 'loadStart' | 'loadEnd' | 'startPart' | 'endPart'>,
): number {
  const whole = Math.abs(angleDeg[loadEnd]! - angleDeg[loadStart]!)
  const before = loadStart > 0 ? Math.abs(angleDeg[loadStart]! - angleDeg[loadStart - 1]!) : 0
  const after = loadEnd < angleDeg.length - 1 ? Math.abs(angleDeg[loadEnd + 1]! - angleDeg[loadEnd]!) : 0
  return whole + startPart * before + endPart * after
}

/**
 * The part of a load range in which the limb has settled: from after the last sample of its first `settleMs` that is
 * more than `settledPercent` from the range's own speed (its mean over the middle half), to before the first such sample
 * of its last `settleMs`.
 *
 * What for: an overshoot that ends just inside the band, or never leaves it, still ends in an impact, and the speed still
 * rises or falls at the ends: what the machine reads there is not strength. Peaks are looked for in this part only.
 * Engineering choice, no source.
 * Units: deg/s, ms, samples. Errors: none.
 * Limits: a range whose middle half is itself unsteady has no speed of its own.
 *
 * @example settledPart(steady velocity, 1, 100, 900, 1000, rule) // { settledStart: 100, settledEnd: 900 }
 */
export function settledPart(
  velocityDegS: Float64Array,
  sign: 1 | -1,
  loadStart: number,
  loadEnd: number,
  sampleRateHz: number,
  rule: Pick<AnalysisParameters['loadRange'], 'settleMs' | 'settledPercent' | 'settleMarginMs'>,
): { readonly settledStart: number; readonly settledEnd: number } {
  const length = loadEnd - loadStart
  const quarter = Math.floor(length / 4)
  let speed = 0
  for (let i = loadStart + quarter; i <= loadEnd - quarter; i++) speed += sign * velocityDegS[i]!
  speed /= length - 2 * quarter + 1
  const tolerance = (rule.settledPercent / 100) * speed
  const reach = Math.min(Math.floor(0.4 * length), Math.round((rule.settleMs / 1000) * sampleRateHz))
  // Deceleration is largest just before the speed is reached, so its torque outlives the visible excess.
  const margin = Math.min(quarter, Math.round((rule.settleMarginMs / 1000) * sampleRateHz))
  let settledStart = loadStart
  let settledEnd = loadEnd
  for (let i = 0; i <= reach; i++) {
    if (Math.abs(sign * velocityDegS[loadStart + i]! - speed) > tolerance) settledStart = loadStart + i + 1
    if (Math.abs(sign * velocityDegS[loadEnd - i]! - speed) > tolerance) settledEnd = loadEnd - i - 1
  }
  return { settledStart: settledStart + margin, settledEnd: settledEnd - margin }
}
