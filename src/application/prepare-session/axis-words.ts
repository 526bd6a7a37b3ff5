/** An axis offset as documents show it: what it does to torque and angle, and what to move which way for this side. */
import type { AxisMove, MisalignmentOverRange } from '../../compute/alignment/index.ts'
import type { Side } from '../../compute/index.ts'

export const millimetres = (value: number) => ({ value, unit: 'mm' })
const degrees = (value: number) => ({ value, unit: 'deg' })

export const AXIS_SOURCE =
  'derived from the geometry of the linkage; a check of the setup at rest, not of the loaded test. Isokinet Exerc Sci 1997 6(4), doi 10.3233/IES-1997-6404' // prettier-ignore

export function describeAxisErrors({ points, largestTorqueErrorPct, largestAngleErrorDeg }: MisalignmentOverRange) {
  return {
    largestTorqueError: { value: largestTorqueErrorPct, unit: '%' },
    largestAngleError: degrees(largestAngleErrorDeg),
    byAngle: points.map((point) => ({
      angle: degrees(point.kneeAngleDeg),
      padDistance: millimetres(point.padDistanceMm),
      angleError: degrees(point.angleErrorDeg),
      torqueRatio: point.torqueRatio,
    })),
  }
}

/** Forward is along the thigh. Seen from beside the limb, where the machine stands, that is another way for each side. */
export function describeAxisMove({ seat, machine, byMm }: AxisMove, side: Side) {
  const seatSeen = seenFromTheMachine(seat, side)
  const machineSeen = seenFromTheMachine(machine, side)
  const by = byMm.toFixed(0)
  return {
    seat,
    machine,
    by: millimetres(byMm),
    seatSeenFromTheMachine: seatSeen,
    machineSeenFromTheMachine: machineSeen,
    inWords: `Move the seat ${seat} (${seatSeen} as seen from the machine's side) by ${by} mm, or the machine ${machine} by as much.`,
  }
}

function seenFromTheMachine(direction: AxisMove['seat'], side: Side): 'left' | 'right' | 'up' | 'down' {
  if (direction === 'up' || direction === 'down') return direction
  const forward = side === 'left' ? 'left' : 'right'
  if (direction === 'forward') return forward
  return forward === 'left' ? 'right' : 'left'
}
