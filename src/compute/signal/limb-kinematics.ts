import type { AnalysisParameters, DeviceProcessing, DirectionProtocol, Finding } from '../types.ts'
import { differentiate } from './differentiate.ts'
import type { PreparedRecording } from './prepare-recording.ts'
import { noiseSd, quietCutoffHz } from './noise.ts'
import { looksLikeRadians, velocityFactor } from './screen-channels.ts'
import { cutoffForSet, smooth } from './smooth.ts'

/** How the limb moved: smoothed angle and velocity, in this core's signs. */
export interface LimbKinematics {
  readonly angleDeg: Float64Array
  readonly velocityDegS: Float64Array
  readonly velocitySource: 'recorded' | 'derived_from_angle'
  readonly cutoffHz: number | null
  readonly findings: readonly Finding[]
}

/**
 * Angle and velocity of the limb, smoothed at a multiple of the torque's cutoff.
 *
 * Why higher than the torque's: at 12 Hz a 30 ms overshoot shrinks into the velocity band, and the impact that ends it is
 * taken for strength. A velocity that was not recorded is the derivative of the filtered angle; one that contradicts the
 * angle (sign, scale) is not used. A device's own filter is not repeated; the angle is still smoothed where it has to be
 * differentiated, or its noise is all there is.
 */
export function limbKinematics(
  prepared: PreparedRecording,
  directions: readonly DirectionProtocol[],
  filter: AnalysisParameters['filter'],
  deviceFilter: DeviceProcessing,
): LimbKinematics {
  const { sampleRateHz, angleDeg, velocityDegS } = prepared
  const findings: Finding[] = []
  const cutoffHz = filter.kind === 'none' ? null : kinematicCutoffHz(prepared, directions, filter)
  const smoothed = (signal: Float64Array, what: string) => {
    if (filter.kind === 'none' || cutoffHz === null) return { values: signal, design: null }
    const answer = smooth(signal, cutoffHz, sampleRateHz, filter.orderPerPass, what)
    findings.push(...answer.findings)
    return answer
  }

  const repeatFilter = deviceFilter !== 'applied'
  const angle = repeatFilter || velocityDegS === null ? smoothed(angleDeg, 'angle') : { values: angleDeg, design: null }
  const derived = differentiate(angle.values, sampleRateHz)
  for (let i = 0; i < derived.length; i++) derived[i] = -derived[i]!
  findings.push(...screenForRadians(angle.values, derived, directions))

  const base = { angleDeg: angle.values, cutoffHz: angle.design?.cutoffHz ?? null }
  if (velocityDegS === null) {
    return { ...base, velocityDegS: derived, velocitySource: 'derived_from_angle', findings }
  }
  const factor = directions.every(({ velocityDegS: set }) => set === 0) ? null : velocityFactor(velocityDegS, derived)
  if (factor !== null && !(factor > 0.8 && factor < 1.25)) {
    const detail = `The recorded velocity is ${factor.toPrecision(3)} of what the angle says; the angle's was used.`
    const fromAngle = limbKinematics({ ...prepared, velocityDegS: null }, directions, filter, deviceFilter)
    const finding: Finding = { code: 'velocity_contradicts_angle', level: 'caution', detail }
    return { ...fromAngle, findings: [finding, ...fromAngle.findings] }
  }
  const velocity = repeatFilter ? smoothed(velocityDegS, 'velocity').values : velocityDegS
  return { ...base, velocityDegS: velocity, velocitySource: 'recorded', findings }
}

function kinematicCutoffHz(
  { sampleRateHz, angleDeg, velocityDegS }: PreparedRecording,
  directions: readonly DirectionProtocol[],
  filter: Extract<AnalysisParameters['filter'], { kind: 'butterworth_zero_phase' }>,
): number {
  const usual = cutoffForSet(filter, directions) * filter.kinematicCutoffMultiple
  const slowest = Math.min(...directions.map((direction) => direction.velocityDegS))
  if (velocityDegS !== null || slowest === 0) return usual
  const allowedDegS = (filter.derivedVelocityNoisePercent / 100) * slowest
  return Math.max(
    LOWEST_KINEMATIC_CUTOFF_HZ,
    Math.min(usual, quietCutoffHz(noiseSd(angleDeg), allowedDegS, sampleRateHz)),
  )
}

/** Below this a movement's own acceleration is smoothed away. */
const LOWEST_KINEMATIC_CUTOFF_HZ = 6

function screenForRadians(
  angleDeg: Float64Array,
  velocityDegS: Float64Array,
  directions: readonly DirectionProtocol[],
): Finding[] {
  let low = Infinity
  let high = -Infinity
  for (let i = 0; i < angleDeg.length; i++) {
    const angle = angleDeg[i]!
    if (angle < low) low = angle
    if (angle > high) high = angle
  }
  let fastest = 0
  for (let i = 0; i < velocityDegS.length; i++) fastest = Math.max(fastest, Math.abs(velocityDegS[i]!))
  const setVelocityDegS = Math.max(...directions.map((direction) => direction.velocityDegS))
  if (!looksLikeRadians({ range: high - low, fastest, setVelocityDegS })) return []
  const detail = 'The angle moves as far and as fast as it would in radians.'
  return [{ code: 'possible_angle_in_radians', level: 'hold', detail }]
}
