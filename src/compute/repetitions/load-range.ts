import type { AnalysisParameters, ReasonCode } from '../types.ts'
import type { LimbMovement } from './find-movements.ts'

/** The phases of one movement, in samples, ends included. */
export interface Phases {
  /** First and last sample of the limb in motion (faster than 5 % of the set velocity). */
  readonly onset: number
  readonly end: number
  readonly loadStart: number
  readonly loadEnd: number
  /** The limb outran the band before it settled: a brake's impact follows. */
  readonly overshoot: boolean
}

/**
 * First and last sample of a movement in which the limb moves: out from where it first and last exceeds half the set
 * velocity, down to 5 % of it, so that rest with a drifting or noisy velocity at either end does not belong to it.
 *
 * null: half the set velocity (`minimumPercentOfSetVelocity`) is never reached; that is positioning, not an attempt.
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
  const settled = toSamples(rule.minimumDurationMs)

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
    const bridged = start >= 0 && (dropout === 0 || (dropout <= bridge && before >= (above ? settled : bridge)))
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
  const spanDeg = Math.abs(angleDeg[loadEnd]! - angleDeg[loadStart]!)
  const requiredDeg = Math.min(rule.minimumRangeDeg, (rule.minimumPercentOfMotion / 100) * rangeDeg)
  // A whole number of sample intervals must not fall short of itself by rounding.
  if (spanDeg < requiredDeg - 1e-9 || loadEnd - loadStart < settled - 1e-6) return { refused: 'no_load_range' }

  let overshoot = false
  for (let i = moving.onset; i < loadStart && !overshoot; i++) overshoot = sign * velocityDegS[i]! > high
  return { ...moving, loadStart, loadEnd, overshoot }
}
