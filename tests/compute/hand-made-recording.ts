import { DEFAULT_PARAMETERS } from '../../src/compute/index.ts'
import type { AnalysisParameters, DirectionProtocol, Protocol, Recording } from '../../src/compute/index.ts'

/**
 * Recordings whose every sample is written down by a formula: trapezoid of velocity, torque as a function of the angle.
 * Inside-out conventions as in the core: angle positive towards flexion, torque and velocity positive in extension.
 */
export interface Course {
  readonly timeS: number[]
  readonly angleDeg: number[]
  /** Positive in extension. */
  readonly velocityDegS: number[]
}

/** Rest, a movement from one angle to another with a trapezoid of velocity, and so on through the angles. */
export function trapezoids(
  angles: readonly number[],
  setDegS: number,
  accelerationDegS2: number,
  restS = 0.4,
  sampleRateHz = 1000,
): Course {
  const course: Course = { timeS: [], angleDeg: [], velocityDegS: [] }
  const push = (angle: number, velocity: number) => {
    course.timeS.push(course.timeS.length / sampleRateHz)
    course.angleDeg.push(angle)
    course.velocityDegS.push(velocity)
  }
  const rest = (angle: number) => {
    for (let i = 0; i < restS * sampleRateHz; i++) push(angle, 0)
  }
  rest(angles[0]!)
  for (let leg = 1; leg < angles.length; leg++) {
    const from = angles[leg - 1]!
    const distance = Math.abs(angles[leg]! - from)
    const sign = angles[leg]! > from ? 1 : -1
    const top = Math.min(setDegS, Math.sqrt(distance * accelerationDegS2))
    const up = top / accelerationDegS2
    const steady = (distance - top * up) / top
    const total = 2 * up + steady
    for (let k = 0; k <= Math.round(total * sampleRateHz); k++) {
      const t = Math.min(k / sampleRateHz, total)
      const left = total - t
      const travelled =
        t <= up
          ? (accelerationDegS2 * t * t) / 2
          : left >= up
            ? (top * up) / 2 + top * (t - up)
            : distance - (accelerationDegS2 * left * left) / 2
      const speed = t <= up ? accelerationDegS2 * t : left >= up ? top : accelerationDegS2 * left
      push(from + sign * travelled, -sign * speed)
    }
    rest(angles[leg]!)
  }
  return course
}

/** A recording as a device sends it: velocity follows the angle (positive towards flexion). */
export function recordingOf(
  course: Course,
  torque: (angleDeg: number, velocityDegS: number, timeS: number) => number,
  changes: Partial<Recording> = {},
): Recording {
  return {
    timeS: Float64Array.from(course.timeS),
    torqueNm: Float64Array.from(course.timeS, (t, i) => torque(course.angleDeg[i]!, course.velocityDegS[i]!, t)),
    angleDeg: Float64Array.from(course.angleDeg),
    velocityDegS: Float64Array.from(course.velocityDegS, (v) => -v),
    torquePositive: 'extension',
    anglePositive: 'flexion',
    readingAtAnatomicalZeroDeg: 0,
    torqueState: 'gravity_corrected',
    deviceFilter: 'none',
    deviceWindowing: 'none',
    ...changes,
  }
}

export const UNFILTERED: AnalysisParameters = { ...DEFAULT_PARAMETERS, filter: { kind: 'none' } }

export const concentric = (movement: 'extension' | 'flexion', velocityDegS: number): DirectionProtocol => ({
  movement,
  contractionMode: 'isokinetic_concentric',
  velocityDegS,
})

export function protocolOf(directions: readonly DirectionProtocol[], changes: Partial<Protocol> = {}): Protocol {
  return {
    joint: 'knee',
    directions,
    contractionScheme: directions.length === 2 ? 'reciprocal' : 'single_direction',
    gravity: null,
    bodyMassKg: 75,
    intendedRepetitions: null,
    repetitionNotes: [],
    parameters: DEFAULT_PARAMETERS,
    ...changes,
  }
}

/** Smooth torque-angle humps: extension peaks at 65 deg, flexion at 35 deg; zero at rest. */
export function kneeTorque(extensionNm: number, flexionNm: number) {
  return (angleDeg: number, velocityDegS: number): number => {
    const hump = (best: number, width: number) => Math.exp(-(((angleDeg - best) / width) ** 2))
    if (velocityDegS > 0) return extensionNm * hump(65, 50)
    if (velocityDegS < 0) return -flexionNm * hump(35, 55)
    return 0
  }
}

/** Every number anywhere inside a value. */
export function numbersIn(value: unknown): number[] {
  if (typeof value === 'number') return [value]
  if (value === null || typeof value !== 'object') return []
  return Object.values(value as Record<string, unknown>).flatMap(numbersIn)
}
