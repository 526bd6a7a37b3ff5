import {
  analyseRecording,
  DEFAULT_PARAMETERS,
  limbOrientation,
  weighLimb,
  type Analysis,
  type DirectionProtocol,
  type Measured,
  type Recording,
} from '../../src/compute/index.ts'
import { staticLimbWeighing } from '../../src/demo/simulator/limb.ts'
import {
  simulateRecording,
  type SimulatedRecording,
  type SimulationOptions,
} from '../../src/demo/simulator/simulate-recording.ts'
import type { SimulatedDirection } from '../../src/demo/simulator/timeline.ts'
import type { RepetitionTruth } from '../../src/demo/simulator/truth.ts'

/** One way to test a knee; it is simulated with several seeds. */
export interface AccuracyCase {
  readonly label: string
  readonly simulation: Partial<SimulationOptions>
  readonly seeds: readonly number[]
}

/** Analysis minus truth for one repetition and direction; null where either has none. */
export interface RepetitionError {
  readonly seed: number
  readonly repetition: number
  readonly muscle: SimulatedDirection['muscle']
  readonly truePeakNm: number
  readonly peakNm: number | null
  readonly peakPercent: number | null
  readonly angleDeg: number | null
  readonly workPercent: number | null
  /** The true peak lies at the edge of the part at constant speed: nothing inside the load range shows it. */
  readonly peakAtEdge: boolean
  readonly flags: readonly string[]
}

export interface CaseResult {
  readonly label: string
  readonly errors: readonly RepetitionError[]
  /** Repetitions whose true load range is long enough, and of those the ones the analysis refused, with its reason. */
  readonly measurable: number
  readonly refused: readonly { readonly repetition: number; readonly reason: string }[]
  /** Repetitions with no true load range of the required length, and the reasons the analysis gave; null: it counted one. */
  readonly immeasurable: readonly (string | null)[]
}

/** A relaxed limb is weighed at 35 deg of flexion, as a careful laboratory would. */
const WEIGHING_ANGLE_DEG = 35

export function analyseSimulation(simulated: SimulatedRecording): Analysis {
  const { options } = simulated
  const recording: Recording = {
    timeS: simulated.timeS,
    torqueNm: simulated.torqueNm,
    angleDeg: simulated.angleDeg,
    velocityDegS: simulated.velocityDegS,
    torquePositive: options.torquePositive,
    anglePositive: options.anglePositive,
    readingAtAnatomicalZeroDeg: options.readingAtAnatomicalZeroDeg,
    torqueState: options.torqueState,
    deviceFilter: 'none',
    deviceWindowing: 'none',
  }
  const weighing = staticLimbWeighing(options.limb, WEIGHING_ANGLE_DEG)
  const { model } = weighLimb(
    { method: 'single_angle', armTared: 'no', afterLastAdjustment: 'yes', ...weighing },
    limbOrientation('knee', 'extension', 'seated', options.limb.thighRaiseDeg)!,
  )
  return analyseRecording(recording, {
    joint: 'knee',
    directions: options.directions.map(directionProtocol),
    contractionScheme: options.directions.length === 2 ? 'reciprocal' : 'single_direction',
    gravity: options.torqueState === 'measured' ? model : null,
    bodyMassKg: 70,
    intendedRepetitions: options.repetitions,
    repetitionNotes: [],
    parameters: DEFAULT_PARAMETERS,
  })
}

function directionProtocol({ muscle, mode, velocityDegS }: SimulatedDirection): DirectionProtocol {
  return { movement: muscle, contractionMode: mode === 'isometric' ? mode : `isokinetic_${mode}`, velocityDegS }
}

export function runCase({ label, simulation, seeds }: AccuracyCase): CaseResult {
  const errors: RepetitionError[] = []
  const refused: { repetition: number; reason: string }[] = []
  const immeasurable: (string | null)[] = []
  let measurable = 0
  for (const seed of seeds) {
    const simulated = simulateRecording({ ...simulation, seed })
    const analysis = analyseSimulation(simulated)
    for (const truth of simulated.truth) {
      const direction = analysis.directions.find(({ movement }) => movement === truth.direction.muscle)
      const found = direction?.repetitions.find(({ repetition }) => repetition === truth.repetition)
      if (!isMeasurable(truth)) {
        immeasurable.push(found?.counted === 'yes' ? null : (found?.reason ?? 'not found'))
        continue
      }
      measurable++
      if (found?.counted !== 'yes') {
        refused.push({ repetition: truth.repetition, reason: found?.reason ?? 'not found' })
        continue
      }
      const { torqueNm, angleDeg } = truth.peak!
      const peak = difference(found.measures.peakTorque, torqueNm)
      const work = truth.band === null ? null : difference(found.measures.workPerRepetition, truth.band.workJ)
      errors.push({
        seed,
        repetition: truth.repetition,
        muscle: truth.direction.muscle,
        truePeakNm: torqueNm,
        peakNm: peak,
        peakPercent: peak === null ? null : (100 * peak) / torqueNm,
        angleDeg: difference(found.measures.angleOfPeakTorque, angleDeg),
        workPercent: work === null ? null : (100 * work) / truth.band!.workJ,
        peakAtEdge: truth.constantVelocity?.peakAtEdge ?? false,
        flags: found.flags,
      })
    }
  }
  return { label, errors, measurable, refused, immeasurable }
}

/** The rule of the default parameters, applied to the truth. */
function isMeasurable({ direction, peak, band, rangeOfMotionDeg }: RepetitionTruth): boolean {
  if (direction.mode === 'isometric') return true
  const { minimumRangeDeg, minimumPercentOfMotion, minimumDurationMs } = DEFAULT_PARAMETERS.loadRange
  if (peak === null || band === null) return false
  const needed = Math.min(minimumRangeDeg, (minimumPercentOfMotion / 100) * rangeOfMotionDeg)
  return band.rangeDeg >= needed && (band.endS - band.startS) * 1000 >= minimumDurationMs
}

function difference(measured: Measured, truth: number): number | null {
  return measured.value === null ? null : measured.value - truth
}
