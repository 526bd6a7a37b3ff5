import { ADULT_SHANK, gravityPullNm, inertialTorqueNm, type LimbModel } from './limb.ts'
import { availableTorqueNm, KNEE_EXTENSORS, KNEE_FLEXORS, type MuscleModel } from './muscle.ts'
import { seededRandom, type Random } from './random.ts'
import { planTimeline, type Effort, type MuscleGroup, type SimulatedDirection } from './timeline.ts'
import { longestStretch, peakOf, truthOfWindow, type FineCourse, type RepetitionTruth } from './truth.ts'

/**
 * Knee recordings whose right answer is known: the reference for every claim of accuracy.
 * It shares no code with the analysis, or agreement would prove nothing.
 *
 * Inside, extension torque and extension speed are positive and the angle is knee flexion (0 = full extension):
 *   reading = muscle torque - gravity pull - inertia * acceleration (+ impact, drift, noise).
 */
export interface SimulationOptions {
  readonly seed: number
  readonly directions: readonly SimulatedDirection[]
  readonly repetitions: number
  readonly sampleRateHz: number
  readonly extensors: MuscleModel
  readonly flexors: MuscleModel
  readonly limb: LimbModel
  readonly extensionEndDeg: number
  readonly flexionEndDeg: number
  readonly accelerationDegS2: number
  readonly decelerationDegS2: number
  readonly overshootFraction: number
  readonly overshootDurationS: number
  /** Height of the spike when the brake catches a limb that has outrun the set speed, N.m. */
  readonly impactTorqueNm: number
  /** Rest between two movements. */
  readonly dwellS: number
  /** The muscle starts to work this long before the limb moves (never longer than the dwell). */
  readonly activationLeadS: number
  readonly activationTimeConstantS: number
  readonly deactivationTimeConstantS: number
  /** Standard deviation of white noise on every sample. */
  readonly torqueNoiseNm: number
  readonly angleNoiseDeg: number
  readonly velocityNoiseDegS: number
  /** Creep of the torque zero. */
  readonly torqueDriftNmPerMin: number
  /** Coefficient of variation of strength from repetition to repetition, as a fraction. */
  readonly repetitionScatter: number
  /** Fraction of strength lost with every repetition. */
  readonly fatiguePerRepetition: number
  readonly brokenOff: ReadonlyMap<number, number>
  readonly isometricAngleDeg: number
  readonly isometricHoldS: number
  readonly isometricRestS: number
  /** Single direction: speed at which the relaxed limb is carried back. */
  readonly returnVelocityDegS: number
  readonly leadInS: number
  readonly leadOutS: number
  /** Two-sided band around the set speed, as a fraction, for the truth of the load range. */
  readonly loadRangeBand: number
  readonly torquePositive: MuscleGroup | 'unsigned'
  readonly anglePositive: MuscleGroup
  readonly readingAtAnatomicalZeroDeg: number
  readonly torqueState: 'measured' | 'gravity_corrected'
}

export interface SimulatedRecording {
  readonly sampleRateHz: number
  readonly timeS: Float64Array
  readonly torqueNm: Float64Array
  readonly angleDeg: Float64Array
  readonly velocityDegS: Float64Array
  readonly truth: readonly RepetitionTruth[]
  readonly options: SimulationOptions
}

const CONCENTRIC_60: readonly SimulatedDirection[] = [
  { muscle: 'extension', mode: 'concentric', velocityDegS: 60 },
  { muscle: 'flexion', mode: 'concentric', velocityDegS: 60 },
]

export const DEFAULT_SIMULATION: SimulationOptions = {
  seed: 1,
  directions: CONCENTRIC_60,
  repetitions: 5,
  sampleRateHz: 1000,
  extensors: KNEE_EXTENSORS,
  flexors: KNEE_FLEXORS,
  limb: ADULT_SHANK,
  extensionEndDeg: 5,
  flexionEndDeg: 95,
  accelerationDegS2: 3000,
  decelerationDegS2: 3000,
  overshootFraction: 0,
  overshootDurationS: 0.05,
  impactTorqueNm: 0,
  dwellS: 0.2,
  activationLeadS: 0.02,
  activationTimeConstantS: 0.04,
  deactivationTimeConstantS: 0.04,
  torqueNoiseNm: 0,
  angleNoiseDeg: 0.02,
  velocityNoiseDegS: 0.3,
  torqueDriftNmPerMin: 0,
  repetitionScatter: 0.02,
  fatiguePerRepetition: 0,
  brokenOff: new Map(),
  isometricAngleDeg: 60,
  isometricHoldS: 3,
  isometricRestS: 2,
  returnVelocityDegS: 45,
  leadInS: 0.5,
  leadOutS: 0.5,
  loadRangeBand: 0.05,
  torquePositive: 'extension',
  anglePositive: 'flexion',
  readingAtAnatomicalZeroDeg: 0,
  torqueState: 'measured',
}

/** The course is computed at least this finely whatever the sample rate; truth is read from the fine course. */
const FINE_RATE_HZ = 10_000

export function simulateRecording(overrides: Partial<SimulationOptions> = {}): SimulatedRecording {
  const options: SimulationOptions = { ...DEFAULT_SIMULATION, ...overrides }
  if (!(options.sampleRateHz >= 50 && options.sampleRateHz <= 5000)) {
    throw new RangeError('The sample rate must lie between 50 and 5000 Hz.')
  }
  const random = seededRandom(options.seed)
  const efforts = planTimeline(options)
  const strengths = efforts.map(({ repetition }) => strengthOf(repetition, options, random))

  const finePerSample = Math.ceil(FINE_RATE_HZ / options.sampleRateHz)
  const fineStepS = 1 / (options.sampleRateHz * finePerSample)
  const endS = (efforts.at(-1)?.endS ?? 0) + options.leadOutS
  const sampleCount = Math.floor(endS * options.sampleRateHz) + 1
  const fineCount = (sampleCount - 1) * finePerSample + 1

  const angle = new Float64Array(fineCount)
  const speed = new Float64Array(fineCount)
  const muscleTorque = new Float64Array(fineCount)
  const recording = {
    timeS: new Float64Array(sampleCount),
    torqueNm: new Float64Array(sampleCount),
    angleDeg: new Float64Array(sampleCount),
    velocityDegS: new Float64Array(sampleCount),
  }
  const activation = { extension: 0, flexion: 0 }
  const strength = { extension: 1, flexion: 1 }
  const risePerStep = 1 - Math.exp(-fineStepS / options.activationTimeConstantS)
  const fallPerStep = 1 - Math.exp(-fineStepS / options.deactivationTimeConstantS)
  let current = 0 // the effort that is running or comes next

  for (let i = 0; i < fineCount; i++) {
    const timeS = i * fineStepS
    while (current < efforts.length - 1 && timeS > efforts[current]!.endS) current++
    const limb = limbStateAt(efforts[current]!, timeS)

    const effort = efforts[current]!
    const intended = timeS >= effort.intentStartS && timeS <= effort.endS ? effort.direction?.muscle : undefined
    if (intended !== undefined) strength[intended] = strengths[current]!
    for (const group of ['extension', 'flexion'] as const) {
      const target = group === intended ? 1 : 0
      if (i > 0) activation[group] += (target - activation[group]) * (target === 1 ? risePerStep : fallPerStep)
    }
    const extensionSpeed = -limb.velocityDegS
    const extensors = availableTorqueNm(options.extensors, limb.angleDeg, extensionSpeed)
    const flexors = availableTorqueNm(options.flexors, limb.angleDeg, -extensionSpeed)
    const net = activation.extension * strength.extension * extensors - activation.flexion * strength.flexion * flexors

    angle[i] = limb.angleDeg
    speed[i] = Math.abs(limb.velocityDegS)
    muscleTorque[i] = net

    if (i % finePerSample === 0) {
      const pull = options.torqueState === 'measured' ? gravityPullNm(options.limb, limb.angleDeg) : 0
      const extensionTorque =
        net -
        pull -
        inertialTorqueNm(options.limb, -limb.accelerationDegS2) +
        Math.sign(extensionSpeed) * limb.impact * options.impactTorqueNm +
        (options.torqueDriftNmPerMin * timeS) / 60
      const sample = i / finePerSample
      recording.timeS[sample] = timeS
      recording.torqueNm[sample] = asRead(
        extensionTorque + options.torqueNoiseNm * random.normal(),
        options.torquePositive,
      )
      const angleSign = options.anglePositive === 'flexion' ? 1 : -1
      recording.angleDeg[sample] =
        options.readingAtAnatomicalZeroDeg + angleSign * (limb.angleDeg + options.angleNoiseDeg * random.normal())
      recording.velocityDegS[sample] = angleSign * (limb.velocityDegS + options.velocityNoiseDegS * random.normal())
    }
  }

  const truth = efforts.flatMap((effort) => {
    if (effort.direction === null) return []
    const first = Math.ceil(effort.startS / fineStepS)
    const last = Math.min(fineCount - 1, Math.floor(effort.endS / fineStepS))
    const sign = effort.direction.muscle === 'extension' ? 1 : -1
    const course: FineCourse = {
      timeS: Float64Array.from({ length: last - first + 1 }, (_, k) => (first + k) * fineStepS),
      angleDeg: angle.subarray(first, last + 1),
      speedDegS: speed.subarray(first, last + 1),
      muscleTorqueNm: muscleTorque.subarray(first, last + 1).map((torque) => sign * torque),
    }
    return [truthOf(effort, effort.direction, course, options.loadRangeBand)]
  })
  return { sampleRateHz: options.sampleRateHz, ...recording, truth, options }
}

function strengthOf(repetition: number, options: SimulationOptions, random: Random): number {
  const tired = (1 - options.fatiguePerRepetition) ** (repetition - 1)
  return tired * (1 + options.repetitionScatter * random.normal())
}

/** Angle and its derivatives, positive towards flexion. */
function limbStateAt(
  effort: Effort,
  timeS: number,
): { angleDeg: number; velocityDegS: number; accelerationDegS2: number; impact: number } {
  const still = { velocityDegS: 0, accelerationDegS2: 0, impact: 0 }
  if (timeS < effort.startS || effort.stroke === null) return { angleDeg: effort.startAngleDeg, ...still }
  const { durationS } = effort.stroke
  const state = effort.stroke.at(Math.min(timeS - effort.startS, durationS))
  const angleDeg = effort.startAngleDeg + effort.angleSign * state.travelledDeg
  if (timeS > effort.endS) return { angleDeg, ...still }
  return {
    angleDeg,
    velocityDegS: effort.angleSign * state.speedDegS,
    accelerationDegS2: effort.angleSign * state.accelerationDegS2,
    impact: state.impact,
  }
}

function asRead(extensionTorque: number, torquePositive: SimulationOptions['torquePositive']): number {
  if (torquePositive === 'unsigned') return Math.abs(extensionTorque)
  return torquePositive === 'extension' ? extensionTorque : -extensionTorque
}

function truthOf(
  effort: Effort,
  direction: SimulatedDirection,
  course: FineCourse,
  loadRangeBand: number,
): RepetitionTruth {
  const { repetition, startS, endS } = effort
  const count = course.timeS.length
  const common = { repetition, direction, startS, endS }
  if (direction.mode === 'isometric') {
    return { ...common, rangeOfMotionDeg: 0, peak: peakOf(course, 0, count - 1), constantVelocity: null, band: null }
  }
  const plateau = effort.stroke?.plateau ?? null
  const constant =
    plateau &&
    longestStretch(count, (i) => {
      const sinceStart = course.timeS[i]! - startS
      return sinceStart >= plateau.startS && sinceStart <= plateau.endS
    })
  const inBand = longestStretch(
    count,
    (i) => Math.abs(course.speedDegS[i]! - direction.velocityDegS) <= loadRangeBand * direction.velocityDegS,
  )
  return {
    ...common,
    rangeOfMotionDeg: Math.abs(course.angleDeg[count - 1]! - course.angleDeg[0]!),
    peak: constant && peakOf(course, ...constant),
    constantVelocity: constant && truthOfWindow(course, ...constant),
    band: inBand && truthOfWindow(course, ...inBand),
  }
}
