import { coveredAngles } from '../gravity/gravity-model.ts'
import { movementSign } from '../movement-pairs.ts'
import { findMovements } from '../repetitions/find-movements.ts'
import { findContractions } from '../repetitions/isometric-contractions.ts'
import { segmentDirection } from '../repetitions/segment-direction.ts'
import type { Attempt } from '../repetitions/segment-direction.ts'
import type { FilteredTorque } from '../signal/muscle-torque.ts'
import type { Interval } from '../signal/time-base.ts'
import { filterLoadRange } from '../signal/zero-phase-filter.ts'
import type { DeviceProcessing, Finding, GravityModel, Protocol, RepetitionResult } from '../types.ts'
import { measureContraction } from './measure-contraction.ts'
import { measureRepetition } from './measure-repetition.ts'
import type { Signals } from './measure-repetition.ts'

export interface MeasuredSet {
  /** One list per direction of the protocol, in its order. */
  readonly repetitions: readonly (readonly RepetitionResult[])[]
  readonly findings: readonly Finding[]
}

/** Every repetition of an isokinetic set, direction by direction. */
export function measureMovements(
  signals: Signals,
  torque: FilteredTorque,
  protocol: Protocol,
  applied: GravityModel | null,
  missing: readonly Interval[],
  deviceWindowing: DeviceProcessing,
): MeasuredSet {
  const { parameters, directions } = protocol
  const movements = findMovements(signals.angleDeg, parameters.movement)
  const allowedDeg = applied === null ? null : coveredAngles(applied)
  const findings: Finding[] = []
  const attempts = directions.map((direction) => {
    const { sampleRateHz } = signals
    const found = segmentDirection(signals, movements, direction, sampleRateHz, missing, allowedDeg, parameters)
    if (found.positioning > 0) {
      const detail = `${found.positioning} movements towards ${direction.movement} were slower than a repetition.`
      findings.push({ code: 'positioning_movements', movement: direction.movement, level: 'note', detail })
    }
    return found.attempts
  })
  const inRange = withLoadRangesFilteredAlone(signals, torque, attempts.flat(), parameters.loadRange.continueMs)
  const repetitions = attempts.map((ofDirection, d) =>
    ofDirection.map((attempt, i) =>
      measureRepetition(inRange, attempt, i + 1, directions[d]!, protocol, deviceWindowing),
    ),
  )
  return { repetitions, findings }
}

/**
 * The signals with the torque of every load range filtered by itself, so that inertia and impact outside do not leak in.
 * Unfiltered torque stays as it is.
 */
function withLoadRangesFilteredAlone(
  signals: Signals,
  { torqueNm, design, unfilteredNm }: FilteredTorque,
  attempts: readonly Attempt[],
  continueMs: number,
): Signals {
  if (design === null) return signals
  const longest = (continueMs / 1000) * signals.sampleRateHz
  const filtered = torqueNm.slice()
  for (const { phases } of attempts) {
    if (phases === null) continue
    const { loadStart, settledStart: from, settledEnd: to, loadEnd } = phases
    const rangeFrom = from - loadStart > longest ? from : loadStart
    const rangeTo = loadEnd - to > longest ? to : loadEnd
    const range = filterLoadRange(unfilteredNm, { rangeFrom, from, to, rangeTo }, design, signals.sampleRateHz)
    filtered.set(range, rangeFrom)
  }
  return { ...signals, torqueNm: filtered }
}

/** Every contraction of an isometric set, direction by direction. */
export function measureContractions(
  signals: Signals,
  lightTorqueNm: Float64Array,
  protocol: Protocol,
  missing: readonly Interval[],
): MeasuredSet {
  const { directions, parameters } = protocol
  const repetitions = directions.map((direction) => {
    const sign = movementSign(direction.movement)
    const found = findContractions(signals.torqueNm, sign, signals.sampleRateHz, parameters.isometric)
    return found.map((contraction, i) => {
      const earliest = i === 0 ? 0 : found[i - 1]!.to + 1
      return measureContraction(signals, lightTorqueNm, contraction, earliest, i + 1, direction, protocol, missing)
    })
  })
  return { repetitions, findings: [] }
}
