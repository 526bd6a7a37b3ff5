/**
 * One movement through the range, in closed form: speed up, (outrun the set speed,) hold the set speed, slow down.
 * Distances and speeds are magnitudes; which way the limb goes is the caller's business.
 */
export interface Stroke {
  readonly durationS: number
  /** Part at exactly the set speed, in seconds from the start of the stroke; null where there is none. */
  readonly plateau: { readonly startS: number; readonly endS: number } | null
  at(timeS: number): StrokeState
}

export interface StrokeState {
  readonly travelledDeg: number
  readonly speedDegS: number
  readonly accelerationDegS2: number
  /** 0 outside, up to 1 at the height of the brake's impact after the limb has outrun the set speed. */
  readonly impact: number
}

export interface StrokeOptions {
  readonly rangeDeg: number
  readonly setSpeedDegS: number
  readonly accelerationDegS2: number
  readonly decelerationDegS2: number
  /** Largest excess over the set speed as a fraction of it; 0 for none. */
  readonly overshootFraction: number
  readonly overshootDurationS: number
}

/** The impact is a half sine between these fractions of the overshoot: the brake reacts once the limb is too fast. */
const IMPACT_START = 0.25
const IMPACT_END = 0.9

export function planStroke(options: StrokeOptions): Stroke {
  const { rangeDeg, setSpeedDegS, accelerationDegS2: up, decelerationDegS2: down } = options
  const distanceUp = setSpeedDegS ** 2 / (2 * up)
  const distanceDown = setSpeedDegS ** 2 / (2 * down)
  const remaining = rangeDeg - distanceUp - distanceDown
  if (remaining < 0) return triangularStroke(rangeDeg, up, down)

  // A half sine of height f on top of the set speed lasts D and covers set speed * D * (1 + 2 f / pi).
  const excess = options.overshootFraction
  const speedDuringOvershoot = setSpeedDegS * (1 + (2 * excess) / Math.PI)
  const overshootS = excess > 0 ? Math.min(options.overshootDurationS, remaining / speedDuringOvershoot) : 0
  const plateauDistance = remaining - overshootS * speedDuringOvershoot

  const overshootStart = setSpeedDegS / up
  const plateauStart = overshootStart + overshootS
  const plateauEnd = plateauStart + plateauDistance / setSpeedDegS
  const end = plateauEnd + setSpeedDegS / down

  const at = (timeS: number): StrokeState => {
    if (timeS <= overshootStart) {
      return { travelledDeg: (up * timeS ** 2) / 2, speedDegS: up * timeS, accelerationDegS2: up, impact: 0 }
    }
    if (timeS < plateauStart) {
      const t = timeS - overshootStart
      const rate = Math.PI / overshootS
      return {
        travelledDeg: distanceUp + setSpeedDegS * (t + (excess * (1 - Math.cos(rate * t))) / rate),
        speedDegS: setSpeedDegS * (1 + excess * Math.sin(rate * t)),
        accelerationDegS2: setSpeedDegS * excess * rate * Math.cos(rate * t),
        impact: impactAt(t / overshootS),
      }
    }
    if (timeS <= plateauEnd) {
      const travelledDeg = rangeDeg - distanceDown - plateauDistance + setSpeedDegS * (timeS - plateauStart)
      return { travelledDeg, speedDegS: setSpeedDegS, accelerationDegS2: 0, impact: 0 }
    }
    const left = end - timeS
    return {
      travelledDeg: rangeDeg - (down * left ** 2) / 2,
      speedDegS: down * left,
      accelerationDegS2: -down,
      impact: 0,
    }
  }
  return { durationS: end, plateau: plateauDistance > 0 ? { startS: plateauStart, endS: plateauEnd } : null, at }
}

/** The range is too short for the set speed: it is never reached. */
function triangularStroke(rangeDeg: number, up: number, down: number): Stroke {
  const topSpeed = Math.sqrt((2 * rangeDeg) / (1 / up + 1 / down))
  const turn = topSpeed / up
  const end = turn + topSpeed / down
  const at = (timeS: number): StrokeState => {
    if (timeS <= turn) {
      return { travelledDeg: (up * timeS ** 2) / 2, speedDegS: up * timeS, accelerationDegS2: up, impact: 0 }
    }
    const left = end - timeS
    return {
      travelledDeg: rangeDeg - (down * left ** 2) / 2,
      speedDegS: down * left,
      accelerationDegS2: -down,
      impact: 0,
    }
  }
  return { durationS: end, plateau: null, at }
}

function impactAt(fraction: number): number {
  if (fraction <= IMPACT_START || fraction >= IMPACT_END) return 0
  return Math.sin((Math.PI * (fraction - IMPACT_START)) / (IMPACT_END - IMPACT_START))
}
