/** A movement between two turning points of the limb. Indices are samples, both ends included. */
export interface LimbMovement {
  /** +1: the limb moves in the first movement (angle falls); -1: in the second. */
  readonly sign: 1 | -1
  /** Turning points. */
  readonly from: number
  readonly to: number
  readonly rangeDeg: number
}

/**
 * Movements of the limb, as the stretches between turning points of the angle.
 *
 * A turning point is confirmed when the angle has come back from it by the larger of `minimumRangeDeg` and
 * `minimumPercentOfLargest` of the whole range seen. So a wiggle or a pause inside a movement does not split it, and a
 * twitch is no movement, while an aborted repetition of a quarter of the range still is one and keeps its number.
 * Linear in time. Units: deg. Engineering choice, no source.
 * What for: repetitions without trusting the velocity. Errors: none; nothing that moves is an empty list. Limits: a
 * drifting angle at rest may hold a turning point a little early or late.
 *
 * @example findMovements(90 -> 0 -> 90 deg, ...) // [{ sign: 1, rangeDeg: 90, ... }, { sign: -1, rangeDeg: 90, ... }]
 */
export function findMovements(
  angleDeg: Float64Array,
  rule: { readonly minimumRangeDeg: number; readonly minimumPercentOfLargest: number },
): LimbMovement[] {
  let lowest = Infinity
  let highest = -Infinity
  for (let i = 0; i < angleDeg.length; i++) {
    const angle = angleDeg[i]!
    if (angle < lowest) lowest = angle
    if (angle > highest) highest = angle
  }
  const turn = Math.max(rule.minimumRangeDeg, (rule.minimumPercentOfLargest / 100) * (highest - lowest))

  const movements: LimbMovement[] = []
  const add = (from: number, to: number) => {
    const rangeDeg = Math.abs(angleDeg[to]! - angleDeg[from]!)
    movements.push({ sign: angleDeg[to]! < angleDeg[from]! ? 1 : -1, from, to, rangeDeg })
  }
  // Until the first movement is seen both extremes are candidates for its start.
  let low = 0
  let high = 0
  let lowAngle = angleDeg[0]!
  let highAngle = lowAngle
  let direction = 0
  let start = 0
  for (let i = 1; i < angleDeg.length; i++) {
    const angle = angleDeg[i]!
    if (angle < lowAngle) {
      low = i
      lowAngle = angle
    }
    if (angle > highAngle) {
      high = i
      highAngle = angle
    }
    if (direction >= 0 && highAngle - angle >= turn) {
      if (direction > 0) add(start, high)
      direction = -1
      start = high
      low = i
      lowAngle = angle
    } else if (direction <= 0 && angle - lowAngle >= turn) {
      if (direction < 0) add(start, low)
      direction = 1
      start = low
      high = i
      highAngle = angle
    }
  }
  if (direction > 0) add(start, high)
  if (direction < 0) add(start, low)
  return movements
}
