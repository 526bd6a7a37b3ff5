import {
  limbOrientation,
  weighLimb,
  DEFAULT_PARAMETERS,
  type Protocol,
  type Recording,
} from '../../src/compute/index.ts'
import { staticLimbWeighing } from '../../src/demo/simulator/limb.ts'
import { simulateRecording } from '../../src/demo/simulator/simulate-recording.ts'

export const SAMPLE_RATE_HZ = 1000
/** Time, torque, angle and velocity, eight bytes each. */
export const BYTES_PER_SAMPLE = 4 * 8

const set = simulateRecording({
  seed: 7,
  repetitions: 4,
  torqueNoiseNm: 0.5,
  overshootFraction: 0.08,
  impactTorqueNm: 5,
})

/** A set of four extensions and flexions at 60 deg/s, over and over: it ends where it begins. */
export function longRecording(samples: number): Recording {
  const again = (channel: Float64Array): Float64Array => {
    const long = new Float64Array(samples)
    for (let i = 0; i < samples; i++) long[i] = channel[i % channel.length]!
    return long
  }
  return {
    timeS: Float64Array.from({ length: samples }, (_, i) => i / SAMPLE_RATE_HZ),
    torqueNm: again(set.torqueNm),
    angleDeg: again(set.angleDeg),
    velocityDegS: again(set.velocityDegS),
    torquePositive: 'extension',
    anglePositive: 'flexion',
    readingAtAnatomicalZeroDeg: 0,
    torqueState: 'measured',
    deviceFilter: 'none',
    deviceWindowing: 'none',
  }
}

const { model } = weighLimb(
  { method: 'single_angle', armTared: 'no', afterLastAdjustment: 'yes', ...staticLimbWeighing(set.options.limb, 35) },
  limbOrientation('knee', 'extension', 'seated', set.options.limb.thighRaiseDeg)!,
)

export const PROTOCOL: Protocol = {
  joint: 'knee',
  directions: [
    { movement: 'extension', contractionMode: 'isokinetic_concentric', velocityDegS: 60 },
    { movement: 'flexion', contractionMode: 'isokinetic_concentric', velocityDegS: 60 },
  ],
  contractionScheme: 'reciprocal',
  gravity: model,
  bodyMassKg: 70,
  intendedRepetitions: null,
  repetitionNotes: [],
  parameters: DEFAULT_PARAMETERS,
}
