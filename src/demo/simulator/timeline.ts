import { planStroke, type Stroke } from './stroke.ts'

export type MuscleGroup = 'extension' | 'flexion'

/** `muscle` is the group that works; an eccentric direction moves the limb the other way. */
export interface SimulatedDirection {
  readonly muscle: MuscleGroup
  readonly mode: 'concentric' | 'eccentric' | 'isometric'
  /** deg/s; 0 for isometric. */
  readonly velocityDegS: number
}

/** A stretch of time in which one muscle works (or, muscle null, the limb is carried back relaxed). */
export interface Effort {
  readonly repetition: number
  readonly direction: SimulatedDirection | null
  readonly startS: number
  readonly endS: number
  readonly startAngleDeg: number
  /** +1: the limb goes towards flexion (angle grows), -1: towards extension, 0: it is held. */
  readonly angleSign: -1 | 0 | 1
  readonly stroke: Stroke | null
  /** From here the muscle is told to work, until endS. */
  readonly intentStartS: number
}

export interface TimelineOptions {
  readonly directions: readonly SimulatedDirection[]
  readonly repetitions: number
  readonly extensionEndDeg: number
  readonly flexionEndDeg: number
  readonly accelerationDegS2: number
  readonly decelerationDegS2: number
  readonly overshootFraction: number
  readonly overshootDurationS: number
  readonly dwellS: number
  readonly activationLeadS: number
  readonly leadInS: number
  readonly returnVelocityDegS: number
  readonly isometricAngleDeg: number
  readonly isometricHoldS: number
  readonly isometricRestS: number
  /** Repetitions that break off after this fraction of the range. */
  readonly brokenOff: ReadonlyMap<number, number>
}

/** +1 towards flexion. A concentric extensor extends, an eccentric extensor is pushed into flexion. */
export function limbDirection(direction: SimulatedDirection): -1 | 1 {
  return (direction.muscle === 'flexion') === (direction.mode === 'concentric') ? 1 : -1
}

export function planTimeline(options: TimelineOptions): Effort[] {
  const [first, second] = options.directions
  if (first === undefined || options.directions.length > 2) throw new RangeError('Give one or two directions.')
  const isometric = options.directions.filter(({ mode }) => mode === 'isometric').length
  if (isometric === options.directions.length) return isometricTimeline(options)
  if (isometric > 0) throw new RangeError('Isometric and isokinetic directions cannot share a set.')
  if (second !== undefined && limbDirection(first) === limbDirection(second)) {
    throw new RangeError('The two directions of a set must move the limb opposite ways.')
  }

  const efforts: Effort[] = []
  const fullRange = options.flexionEndDeg - options.extensionEndDeg
  let clock = options.leadInS
  for (let repetition = 1; repetition <= options.repetitions; repetition++) {
    const rangeDeg = fullRange * (options.brokenOff.get(repetition) ?? 1)
    const out = limbDirection(first)
    const home = out === 1 ? options.extensionEndDeg : options.flexionEndDeg
    for (const [direction, angleSign, startAngleDeg] of [
      [first, out, home],
      [second ?? null, out === 1 ? -1 : 1, home + out * rangeDeg],
    ] as const) {
      const stroke = planStroke({
        rangeDeg,
        setSpeedDegS: direction?.velocityDegS ?? options.returnVelocityDegS,
        accelerationDegS2: options.accelerationDegS2,
        decelerationDegS2: options.decelerationDegS2,
        // The motor drives an eccentric or passive movement: there is no limb to outrun it.
        overshootFraction: direction?.mode === 'concentric' ? options.overshootFraction : 0,
        overshootDurationS: options.overshootDurationS,
      })
      const startS = clock
      const endS = clock + stroke.durationS
      const intentStartS = startS - Math.min(options.activationLeadS, efforts.length ? options.dwellS : options.leadInS)
      efforts.push({ repetition, direction, startS, endS, startAngleDeg, angleSign, stroke, intentStartS })
      clock = endS + options.dwellS
    }
  }
  return efforts
}

function isometricTimeline(options: TimelineOptions): Effort[] {
  let clock = options.leadInS
  return Array.from({ length: options.repetitions }, (_, index) => index + 1).flatMap((repetition) =>
    options.directions.map((direction): Effort => {
      const startS = clock
      const endS = startS + options.isometricHoldS
      clock = endS + options.isometricRestS
      const startAngleDeg = options.isometricAngleDeg
      return { repetition, direction, startS, endS, startAngleDeg, angleSign: 0, stroke: null, intentStartS: startS }
    }),
  )
}
