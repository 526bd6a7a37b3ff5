import { withholdWhereGravityUnknown } from '../gravity/withhold-unknown.ts'
import type { DirectionAnalysis, DirectionProtocol, Protocol, RepetitionResult, YesNoUnknown } from '../types.ts'
import { setStatistics } from './set-statistics.ts'

/**
 * A direction of a set: what was written down about its repetitions applied (an aborted or pain-limited one does not
 * count, whatever its torque), what can't be assessed withheld, and the statistics over what is left.
 *
 * A note that says "count: yes" does not create a load range that was not there.
 */
export function summariseDirection(
  repetitions: readonly RepetitionResult[],
  direction: DirectionProtocol,
  protocol: Protocol,
  gravityCorrected: YesNoUnknown,
): DirectionAnalysis {
  const noted = repetitions.map((repetition): RepetitionResult => {
    const refused = protocol.repetitionNotes.find((note) => {
      return note.repetition === repetition.repetition && note.count === 'no'
    })
    return refused === undefined ? repetition : { ...repetition, counted: 'no', reason: refused.reason }
  })
  const assessed =
    gravityCorrected === 'unknown'
      ? noted.map((repetition) => withholdWhereGravityUnknown(repetition, protocol.joint, direction.movement))
      : noted
  return {
    movement: direction.movement,
    contractionMode: direction.contractionMode,
    velocityDegS: direction.velocityDegS,
    repetitions: assessed,
    counted: assessed.filter(({ counted }) => counted === 'yes').length,
    notCounted: assessed.flatMap(({ repetition, counted, reason }) =>
      counted === 'no' ? [{ repetition, reason: reason ?? 'not_stated' }] : [],
    ),
    ...setStatistics(assessed, protocol.parameters),
  }
}
