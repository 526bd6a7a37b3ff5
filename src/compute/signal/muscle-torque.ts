import { correctForGravity } from '../gravity/gravity-model.ts'
import { movementSign } from '../movement-pairs.ts'
import type {
  AnalysisParameters,
  DeviceProcessing,
  DirectionProtocol,
  Finding,
  GravityModel,
  ReasonCode,
} from '../types.ts'
import type { LimbKinematics } from './limb-kinematics.ts'
import type { PreparedRecording } from './prepare-recording.ts'
import { meanMusclePowerW } from './screen-channels.ts'
import { cutoffForSet, smooth } from './smooth.ts'
import type { LowpassDesign } from './zero-phase-filter.ts'

/**
 * The muscle's torque before filtering: signed, and with gravity taken off where a model is to be applied.
 *
 * The raw angle is used, so that adding the model's torque to a recording and correcting it gives the recording back.
 * Unsigned torque takes the sign of the limb's movement (concentric), of the tested direction where nothing moves.
 * Reason: `unsigned_torque_has_no_direction`, isometric in two directions.
 */
export function muscleTorque(
  prepared: PreparedRecording,
  kinematics: LimbKinematics,
  directions: readonly DirectionProtocol[],
  model: GravityModel | null,
): Float64Array | { readonly refused: ReasonCode } {
  let torque = prepared.torqueNm
  if (prepared.torqueUnsigned) {
    const isometric = directions.every(({ contractionMode }) => contractionMode === 'isometric')
    if (isometric && directions.length > 1) return { refused: 'unsigned_torque_has_no_direction' }
    const sign = movementSign(directions[0]!.movement)
    torque = isometric ? torque.map((value) => sign * value) : signedByMotion(torque, kinematics.velocityDegS, sign)
  }
  return model === null ? torque : correctForGravity(torque, prepared.angleDeg, model)
}

function signedByMotion(torqueNm: Float64Array, velocityDegS: Float64Array, atFirst: 1 | -1): Float64Array {
  const out = new Float64Array(torqueNm.length)
  let sign = atFirst
  for (let i = 0; i < out.length; i++) {
    // At rest the last movement's sign goes on; a whisker of velocity noise must not flip it.
    if (Math.abs(velocityDegS[i]!) > 2) sign = velocityDegS[i]! > 0 ? 1 : -1
    out[i] = sign * torqueNm[i]!
  }
  return out
}

export interface FilteredTorque {
  readonly torqueNm: Float64Array
  readonly unfilteredNm: Float64Array
  readonly design: LowpassDesign | null
  readonly findings: readonly Finding[]
}

/** The muscle's torque through the set's zero-phase low-pass, unless the device filtered it already. */
export function filterTorque(
  torqueNm: Float64Array,
  sampleRateHz: number,
  directions: readonly DirectionProtocol[],
  filter: AnalysisParameters['filter'],
  deviceFilter: DeviceProcessing,
): FilteredTorque {
  if (filter.kind === 'none') return { torqueNm, unfilteredNm: torqueNm, design: null, findings: [] }
  if (deviceFilter === 'applied') {
    const detail = 'The device filtered the torque; it was not filtered again.'
    const finding: Finding = { code: 'filtered_by_device', level: 'note', detail }
    return { torqueNm, unfilteredNm: torqueNm, design: null, findings: [finding] }
  }
  const answer = smooth(torqueNm, cutoffForSet(filter, directions), sampleRateHz, filter.orderPerPass, 'torque')
  const findings = [...answer.findings]
  if (deviceFilter === 'unknown') {
    // Filtering twice at these cutoffs takes tenths of a per cent off a peak; not filtering adds its noise to it.
    const detail = 'Whether the device filtered the torque is not known; it was filtered here.'
    findings.push({ code: 'device_filter_unknown', level: 'caution', detail })
  }
  return { torqueNm: answer.values, unfilteredNm: torqueNm, design: answer.design, findings }
}

/**
 * Torque for rates of development: filtered lightly or, where the sample rate does not allow that, not at all.
 */
export function lightlyFilteredTorque(
  torqueNm: Float64Array,
  sampleRateHz: number,
  filter: AnalysisParameters['filter'],
  deviceFilter: DeviceProcessing,
): Float64Array {
  if (filter.kind === 'none' || deviceFilter === 'applied') return torqueNm
  return smooth(torqueNm, filter.rateOfTorqueDevelopmentCutoffHz, sampleRateHz, filter.orderPerPass, 'torque').values
}

/**
 * Whether torque and movement go together as the protocol says: a hold where the muscles of a concentric test were
 * stretched on the whole, or the reverse. One wrong sign convention does exactly that.
 */
export function screenPowerSign(
  torqueNm: Float64Array,
  kinematics: LimbKinematics,
  directions: readonly DirectionProtocol[],
): Finding[] {
  const isokinetic = directions.filter(({ contractionMode }) => contractionMode !== 'isometric')
  const modes = new Set(isokinetic.map(({ contractionMode }) => contractionMode))
  if (modes.size !== 1) return []
  const moving = 0.5 * Math.min(...isokinetic.map(({ velocityDegS }) => velocityDegS))
  const power = meanMusclePowerW(torqueNm, kinematics.velocityDegS, moving)
  const expected = modes.has('isokinetic_concentric') ? 1 : -1
  // A watt either way is a relaxed limb moved by the machine.
  if (power === null || expected * power >= -1) return []
  const detail = `Mean muscle power is ${power.toFixed(1)} W: torque or angle has another sign than declared.`
  return [{ code: 'sign_convention_doubtful', level: 'hold', detail }]
}
