import { movementPair, movementSign } from '../movement-pairs.ts'
import type { AnalysisParameters, Finding, Movement, ReasonCode, Recording } from '../types.ts'
import { fillMissing } from './fill-missing.ts'
import { clippedRun } from './screen-channels.ts'
import { readTimeBase, resampleEvenly } from './time-base.ts'
import type { Interval } from './time-base.ts'

/** Beyond these no limb is: N.m, deg, deg/s. A device's code for "no value", not a measurement. */
const LARGEST = { torque: 10_000, angle: 3_600, velocity: 10_000 } as const

/** The channels, even in time, complete, and in this core's signs: [first, second] as in types.ts. */
export interface PreparedRecording {
  readonly sampleRateHz: number
  readonly startS: number
  readonly torqueNm: Float64Array
  /** The torque came without sign: it still has to take the sign of the movement. */
  readonly torqueUnsigned: boolean
  readonly angleDeg: Float64Array
  /** null: not recorded, or not usable. */
  readonly velocityDegS: Float64Array | null
  readonly resampled: boolean
  /** Seconds from the first sample. */
  readonly missing: readonly Interval[]
  readonly findings: readonly Finding[]
}

/**
 * Validates a recording and brings it to this core's conventions, or says why it can't be used.
 *
 * In order: equal lengths (a caller's mistake: RangeError); the time base; uneven time resampled by straight lines;
 * values that are not numbers, or beyond any limb, filled where the hole is short; signs turned so that torque and velocity are positive in
 * the first movement and the angle is positive towards the second; the reading at the anatomical zero taken off.
 * Refusals: those of readTimeBase, `no_torque_values`, `no_angle_values`, `movement_pair_differs`.
 */
export function prepareRecording(
  recording: Recording,
  tested: Movement,
  limits: AnalysisParameters['recording'],
): PreparedRecording | { readonly refused: ReasonCode } {
  const { timeS, torqueNm, angleDeg, velocityDegS, torquePositive, anglePositive } = recording
  const n = timeS.length
  if (torqueNm.length !== n || angleDeg.length !== n || (velocityDegS !== null && velocityDegS.length !== n)) {
    throw new RangeError('all channels must have the same length')
  }
  if (!Number.isFinite(recording.readingAtAnatomicalZeroDeg)) throw new RangeError('the zero reading must be finite')
  const pair = movementPair(tested)
  if (!pair.includes(anglePositive) || (torquePositive !== 'unsigned' && !pair.includes(torquePositive))) {
    return { refused: 'movement_pair_differs' }
  }

  const base = readTimeBase(timeS, limits)
  if ('refused' in base) return base
  const findings: Finding[] = []
  const say = (code: ReasonCode, level: Finding['level'], detail: string) => findings.push({ code, level, detail })
  if (base.duplicates > 0) say('duplicate_time_stamps', 'note', `${base.duplicates} time stamps are repeated.`)
  if (base.uneven)
    say('uneven_time_resampled', 'note', `Samples were brought to an even ${round(base.sampleRateHz)} Hz.`)
  if (base.gaps.length > 0) say('samples_missing', 'caution', `${base.gaps.length} gaps in time.`)

  const missing: Interval[] = base.gaps.map((gap) => ({
    startS: gap.startS - base.startS,
    endS: gap.endS - base.startS,
  }))
  const bring = (channel: Float64Array, name: keyof typeof LARGEST): Float64Array | null => {
    const even = base.uneven ? resampleEvenly(timeS, channel, base) : channel
    const { values, filled, gaps } = fillMissing(even, base.sampleRateHz, limits.maximumGapMs, LARGEST[name])
    if (filled > 0) {
      const level = gaps.length > 0 ? 'caution' : 'note'
      say('values_missing', level, `${filled} of ${even.length} ${name} values are missing or beyond any limb.`)
    }
    if (values !== null && (name !== 'velocity' || gaps.length === 0)) missing.push(...gaps)
    return name === 'velocity' && gaps.length > 0 ? null : values
  }
  const torque = bring(torqueNm, 'torque')
  const angle = bring(angleDeg, 'angle')
  if (torque === null) return { refused: 'no_torque_values' }
  if (angle === null) return { refused: 'no_angle_values' }
  const velocity = velocityDegS === null ? null : bring(velocityDegS, 'velocity')

  const clipped = clippedRun(torque, Math.max(5, Math.round(base.sampleRateHz * 0.005)))
  if (clipped > 0) say('torque_saturated', 'hold', `The torque stays at its largest value for ${clipped} samples.`)
  if (torquePositive === 'unsigned') {
    say('torque_unsigned', 'caution', 'The torque has no sign; it is given the sign of the movement.')
  }

  const angleSign = -movementSign(anglePositive)
  return {
    sampleRateHz: base.sampleRateHz,
    startS: base.startS,
    torqueNm: scaled(torque, torquePositive === 'unsigned' ? 1 : movementSign(torquePositive)),
    torqueUnsigned: torquePositive === 'unsigned',
    angleDeg: scaled(angle, angleSign, recording.readingAtAnatomicalZeroDeg),
    // A device's velocity follows its angle; inside this core velocity is positive where the angle falls.
    velocityDegS: velocity === null ? null : scaled(velocity, -angleSign),
    resampled: base.uneven,
    missing,
    findings,
  }
}

function scaled(signal: Float64Array, factor: number, zero = 0): Float64Array {
  // Nothing downstream writes into a channel, so one that already has our sign need not be copied.
  if (factor === 1 && zero === 0) return signal
  const out = new Float64Array(signal.length)
  for (let i = 0; i < signal.length; i++) out[i] = factor * (signal[i]! - zero)
  return out
}

const round = (value: number) => Math.round(value * 10) / 10
