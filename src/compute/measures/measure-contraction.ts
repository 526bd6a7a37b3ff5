import { movementSign } from '../movement-pairs.ts'
import type { Contraction } from '../repetitions/isometric-contractions.ts'
import type { Interval } from '../signal/time-base.ts'
import type { DirectionProtocol, Measured, Protocol, RepetitionResult } from '../types.ts'
import { isometricPlateauNm } from './isometric-plateau.ts'
import { restingTorque, torqueOnset } from './onset.ts'
import { peakTorque } from './peak-torque.ts'
import { perBodyMass } from './per-body-mass.ts'
import { peakRateOfTorqueDevelopment, rateOfTorqueDevelopment } from './rate-of-torque-development.ts'
import { allMissing, measured } from './repetition-measures.ts'
import type { Signals } from './measure-repetition.ts'
import { impulseNms } from './work-and-power.ts'

/**
 * The measures of one isometric contraction. Onset, rates and impulse are read from the lightly filtered torque, peak and
 * plateau from the filtered one. Times start at the onset; without one (the muscle was never at rest before) they are
 * missing with the reason `onset_not_found`.
 */
export function measureContraction(
  signals: Signals,
  lightTorqueNm: Float64Array,
  contraction: Contraction,
  earliest: number,
  repetition: number,
  direction: DirectionProtocol,
  protocol: Protocol,
  missing: readonly Interval[],
): RepetitionResult {
  const { sampleRateHz, startS, torqueNm, angleDeg } = signals
  const { isometric } = protocol.parameters
  const tested = movementSign(direction.movement)
  const { from, to } = contraction
  const hole = missing.some((gap) => gap.startS * sampleRateHz < to && gap.endS * sampleRateHz > from)
  const peak = peakTorque(torqueNm, angleDeg, tested, from, to, 100)
  const reason = hole ? 'samples_missing' : peak === null ? 'no_torque_in_tested_direction' : null

  let onset: number | null = null
  const baseline = restingTorque(lightTorqueNm, tested, earliest, from, sampleRateHz)
  if (baseline !== null && peak !== null) {
    onset = torqueOnset(lightTorqueNm, tested, isometric.onset, baseline, peak.torqueNm, earliest, from)
  }
  const fromOnset = (value: (start: number) => number | null, windowMs: number): Measured => {
    if (reason !== null) return measured(null, reason)
    if (onset === null) return measured(null, 'onset_not_found')
    // The contraction must last as long as the window, or the end of the effort is measured.
    if (onset + (windowMs / 1000) * sampleRateHz > to) return measured(null, 'contraction_shorter_than_window')
    return measured(value(onset), 'contraction_shorter_than_window')
  }
  const rates = isometric.rateOfTorqueDevelopmentWindowsMs.map((windowMs) => ({
    windowMs,
    rate: fromOnset((at) => rateOfTorqueDevelopment(lightTorqueNm, tested, sampleRateHz, at, windowMs), windowMs),
  }))
  const stored = isometric.rateOfTorqueDevelopmentWindowMs
  const samples = (ms: number) => Math.round((ms / 1000) * sampleRateHz)

  let lowest = Infinity
  let highest = -Infinity
  for (let i = from; i <= to; i++) {
    lowest = Math.min(lowest, angleDeg[i]!)
    highest = Math.max(highest, angleDeg[i]!)
  }
  const flags = highest - lowest > isometric.maximumAngleChangeDeg ? ['limb_moved'] : []
  if (onset === null && reason === null) flags.push('onset_not_found')

  const notIsokinetic: Measured = { value: null, reason: 'isokinetic_only' }
  const orReason = (value: number | null, why: string) => measured(reason === null ? value : null, reason ?? why)
  const peakTorqueNm = orReason(peak?.torqueNm ?? null, 'no_torque_in_tested_direction')
  const plateau = isometricPlateauNm(torqueNm, tested, from, to, sampleRateHz, isometric.plateau)
  return {
    repetition,
    counted: reason === null ? 'yes' : 'no',
    reason,
    startS: startS + (onset ?? from) / sampleRateHz,
    endS: startS + to / sampleRateHz,
    contraction: 'isometric',
    loadRange: null,
    riseMs: notIsokinetic,
    decelerationMs: notIsokinetic,
    measures: {
      ...allMissing('isokinetic_only'),
      peakTorque: peakTorqueNm,
      angleOfPeakTorque: orReason(peak?.angleDeg ?? null, 'no_torque_in_tested_direction'),
      timeToPeakTorque: fromOnset((at) => (1000 * ((peak?.index ?? at) - at)) / sampleRateHz, 0),
      rateOfTorqueDevelopment: rates.find(({ windowMs }) => windowMs === stored)?.rate ?? {
        value: null,
        reason: 'window_not_asked_for',
      },
      impulse: fromOnset(
        (at) => impulseNms(lightTorqueNm, tested, sampleRateHz, at, at + samples(isometric.impulseWindowMs)),
        isometric.impulseWindowMs,
      ),
      peakTorquePerBodyMass: perBodyMass(peakTorqueNm, protocol.bodyMassKg),
      isometricPlateauTorque: orReason(plateau, 'no_plateau'),
    },
    torqueAtAngle: [],
    rateOfTorqueDevelopment: rates,
    peakRateOfTorqueDevelopment: fromOnset(
      (at) => peakRateOfTorqueDevelopment(lightTorqueNm, tested, sampleRateHz, at),
      200,
    ),
    flags,
  }
}
