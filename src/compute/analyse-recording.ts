import { checkProtocol } from './check-protocol.ts'
import { correctionFor } from './gravity/gravity-model.ts'
import type { Signals } from './measures/measure-repetition.ts'
import { measureContractions, measureMovements } from './measures/measure-set.ts'
import { summariseDirection } from './measures/summarise-direction.ts'
import { processingFindings, setFindings } from './set-findings.ts'
import { limbKinematics } from './signal/limb-kinematics.ts'
import { filterTorque, lightlyFilteredTorque, muscleTorque, screenPowerSign } from './signal/muscle-torque.ts'
import { prepareRecording } from './signal/prepare-recording.ts'
import { unusableAnalysis } from './unusable-analysis.ts'
import type { Analysis, Protocol, Recording } from './types.ts'
import { COMPUTE_VERSION } from './version.ts'

/**
 * Analysis of one recording of a set: prepare, correct for gravity, filter, segment and measure, summarise.
 *
 * What for: raw torque, angle and velocity in; the measures of every repetition and of the set out.
 * Conventions: see types.ts; magnitudes come out positive in the tested direction. Nothing is corrected or filtered that
 * already was. What can't be had is null with a reason; nothing that leaves is NaN.
 * Errors: RangeError for a caller's mistake (see checkProtocol); unusable DATA give an analysis without repetitions, a hold
 * finding and the reason on every measure. Linear in time; at most about four times the recording in memory.
 * Source: every step names its own; that gravity comes first and only constant velocity counts after Winter, Wells &
 * Orr 1981, Eur J Appl Physiol 46:397-408, and Findley 2006, J Sports Sci Med 5:400-6. Limits: one axis, rigid limb,
 * torque about the machine's axis; what the setup did to the test is not seen here. When not to use it: on values of
 * two recordings analysed with other parameters; compare `canonicalParameters` first.
 * Units: SI, degrees, N.m; MEASURE_UNITS names that of every measure.
 *
 * @example analyseRecording(recording, protocol).directions[0].measures.peakTorque.best // { value: 171.2, n: 5, repetition: 3 }
 */
export function analyseRecording(recording: Recording, protocol: Protocol): Analysis {
  checkProtocol(protocol)
  const { directions, parameters } = protocol
  const { filter } = parameters
  const { deviceFilter, deviceWindowing } = recording
  const gravity = correctionFor(recording.torqueState, protocol.gravity)

  // Prepare: even, complete, in our signs; then how the limb moved.
  const prepared = prepareRecording(recording, directions[0]!.movement, parameters.recording)
  if ('refused' in prepared) return unusableAnalysis(prepared.refused, gravity, protocol)
  const { sampleRateHz, startS, missing } = prepared
  const kinematics = limbKinematics(prepared, directions, filter, deviceFilter)

  // Correct, then filter.
  const corrected = muscleTorque(prepared, kinematics, directions, gravity.apply)
  if ('refused' in corrected) return unusableAnalysis(corrected.refused, gravity, protocol)
  const torque = filterTorque(corrected, sampleRateHz, directions, filter, deviceFilter)
  const signals: Signals = { ...kinematics, sampleRateHz, startS, torqueNm: torque.torqueNm }

  // Segment into repetitions and measure each.
  const isometric = directions[0]!.contractionMode === 'isometric'
  const measured = isometric
    ? measureContractions(
        signals,
        lightlyFilteredTorque(corrected, sampleRateHz, filter, deviceFilter),
        protocol,
        missing,
      )
    : measureMovements(signals, torque, protocol, gravity.apply, missing, deviceWindowing)

  // Summarise.
  const summaries = measured.repetitions.map((repetitions, i) =>
    summariseDirection(repetitions, directions[i]!, protocol, gravity.corrected),
  )
  return {
    directions: summaries,
    findings: [
      ...prepared.findings,
      ...kinematics.findings,
      ...torque.findings,
      ...screenPowerSign(signals.torqueNm, kinematics, directions),
      ...processingFindings(recording, protocol),
      ...measured.findings,
      ...setFindings(summaries, protocol),
    ],
    gravityCorrected: gravity.corrected,
    gravityCorrection: gravity.name,
    filter: torque.design === null ? 'none' : filterUsed(torque.design, kinematics.cutoffHz),
    sampleRateHz,
    resampled: prepared.resampled,
    velocitySource: kinematics.velocitySource,
    parameters,
    computeVersion: COMPUTE_VERSION,
  }
}

function filterUsed(
  design: { readonly orderPerPass: number; readonly cutoffHz: number; readonly designCutoffHz: number },
  kinematicCutoffHz: number | null,
): Analysis['filter'] {
  const { orderPerPass, cutoffHz, designCutoffHz } = design
  return { kind: 'butterworth_zero_phase', orderPerPass, cutoffHz, designCutoffHz, kinematicCutoffHz }
}
