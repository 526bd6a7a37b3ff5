import { movementSign } from '../movement-pairs.ts'
import { loadRangeDeg } from '../repetitions/load-range.ts'
import type { Attempt } from '../repetitions/segment-direction.ts'
import type { DeviceProcessing, DirectionProtocol, Measured, Protocol, RepetitionResult } from '../types.ts'
import { peakAtEdge, peakTorque } from './peak-torque.ts'
import { perBodyMass } from './per-body-mass.ts'
import { allMissing, measured } from './repetition-measures.ts'
import { torqueAtAngle } from './torque-at-angle.ts'
import { averagePowerW, edgeWorkJ, impulseNms, peakPowerW, workJ } from './work-and-power.ts'

export interface Signals {
  readonly sampleRateHz: number
  readonly startS: number
  readonly torqueNm: Float64Array
  readonly angleDeg: Float64Array
  readonly velocityDegS: Float64Array
}

/**
 * The measures of one isokinetic repetition. What lies outside the load range never enters, except range of motion, the
 * start of the time to peak torque (the limb's first movement) and work where the full range was asked for.
 */
export function measureRepetition(
  signals: Signals,
  attempt: Attempt,
  repetition: number,
  direction: DirectionProtocol,
  protocol: Protocol,
  deviceWindowing: DeviceProcessing,
): RepetitionResult {
  const { sampleRateHz, startS, torqueNm, angleDeg, velocityDegS } = signals
  const { parameters, bodyMassKg } = protocol
  const { movement, phases } = attempt
  const time = (sample: number) => startS + sample / sampleRateHz
  const ms = (samples: number): Measured => ({ value: (1000 * samples) / sampleRateHz })
  const rangeOfMotion = measured(movement.rangeDeg, 'no_movement')
  const shared = {
    repetition,
    startS: time(attempt.onset),
    endS: time(attempt.end),
    rateOfTorqueDevelopment: [],
    peakRateOfTorqueDevelopment: { value: null, reason: 'isometric_only' },
  } as const

  if (phases === null) {
    const reason = attempt.reason ?? 'no_load_range'
    const missing: Measured = { value: null, reason }
    return {
      ...shared,
      counted: 'no',
      reason,
      contraction: 'unknown',
      loadRange: null,
      riseMs: missing,
      decelerationMs: missing,
      measures: { ...allMissing(reason), rangeOfMotion: reason === 'samples_missing' ? missing : rangeOfMotion },
      torqueAtAngle: parameters.torqueAtAnglesDeg.map((angle) => ({ angleDeg: angle, torque: missing })),
      flags: [],
    }
  }

  const { onset, end, loadStart, loadEnd, settledStart, settledEnd, startPart, endPart, overshoot } = phases
  const tested = movementSign(direction.movement)
  const motion = movement.sign
  const fitAbove = parameters.peakAngleFitAbovePercent
  const peak = peakTorque(torqueNm, angleDeg, tested, settledStart, settledEnd, fitAbove)
  const loadWork =
    workJ(torqueNm, angleDeg, tested, motion, loadStart, loadEnd) +
    edgeWorkJ(torqueNm, angleDeg, tested, motion, loadStart, loadEnd, startPart, endPart)
  const loadSamples = loadEnd - loadStart + startPart + endPart

  const flags: string[] = []
  if (overshoot) flags.push('velocity_overshoot')
  if (
    peak !== null &&
    peakAtEdge(peak.angleDeg, angleDeg[settledStart]!, angleDeg[settledEnd]!, parameters.edgePercent)
  ) {
    flags.push('peak_torque_near_edge')
  }

  const asked = direction.contractionMode === 'isokinetic_eccentric' ? 'eccentric' : 'concentric'
  // loadWork is positive where the tested muscle's torque prevailed, whichever way the limb went.
  const prevailed = loadWork > 0
  const contraction = prevailed ? asked : asked === 'eccentric' ? 'concentric' : 'eccentric'
  const reason = peak === null ? 'no_torque_in_tested_direction' : prevailed ? null : 'muscle_power_has_other_sign'

  const fullRange = parameters.workWindow === 'full_range'
  const [workStart, workEnd] = fullRange ? [onset, end] : [loadStart, loadEnd]
  const cut = fullRange && deviceWindowing === 'applied'
  const signedWork = fullRange ? workJ(torqueNm, angleDeg, tested, motion, onset, end) : loadWork
  const noTorque = 'no_torque_in_tested_direction'
  const work = cut ? measured(null, 'windowed_by_device') : measured(signedWork > 0 ? signedWork : null, noTorque)
  const power =
    work.value === null
      ? work
      : measured(averagePowerW(work.value, (fullRange ? end - onset : loadSamples) / sampleRateHz), noTorque)
  const impulse = impulseNms(torqueNm, tested, sampleRateHz, workStart, workEnd)
  const peakTorqueNm = measured(peak?.torqueNm ?? null, noTorque)

  return {
    ...shared,
    counted: reason === null ? 'yes' : 'no',
    reason,
    contraction,
    loadRange: {
      startS: time(loadStart),
      endS: time(loadEnd),
      startAngleDeg: angleDeg[loadStart]!,
      endAngleDeg: angleDeg[loadEnd]!,
    },
    riseMs: ms(loadStart - onset),
    decelerationMs: ms(end - loadEnd),
    measures: {
      peakTorque: peakTorqueNm,
      angleOfPeakTorque: measured(peak?.angleDeg ?? null, noTorque),
      workPerRepetition: work,
      averagePower: power,
      peakPower: measured(peakPowerW(torqueNm, velocityDegS, tested, motion, settledStart, settledEnd), noTorque),
      timeToPeakTorque: peak === null ? measured(null, noTorque) : ms(peak.index - onset),
      rateOfTorqueDevelopment: { value: null, reason: 'isometric_only' },
      impulse: cut ? work : measured(impulse > 0 ? impulse : null, noTorque),
      rangeOfMotion,
      loadRange: { value: loadRangeDeg(angleDeg, phases) },
      loadRangeDuration: ms(loadSamples),
      peakTorquePerBodyMass: perBodyMass(peakTorqueNm, bodyMassKg),
      workPerBodyMass: perBodyMass(work, bodyMassKg),
      averagePowerPerBodyMass: perBodyMass(power, bodyMassKg),
      isometricPlateauTorque: { value: null, reason: 'isometric_only' },
    },
    torqueAtAngle: parameters.torqueAtAnglesDeg.map((angle) => ({
      angleDeg: angle,
      torque: measured(torqueAtAngle(torqueNm, angleDeg, tested, loadStart, loadEnd, angle), 'outside_load_range'),
    })),
    flags,
  }
}
