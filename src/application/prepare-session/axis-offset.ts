/** What the axis check of a setup says, as far as it says anything. */
import { estimateAxisOffset, misalignmentOverRange } from '../../compute/alignment/index.ts'
import type { SetupDocument } from '../../domain/session-document.ts'
import type { AxisOffset } from './prepared-session.ts'

export function axisOffset(setup: SetupDocument): AxisOffset {
  const { axisCheck, attachment, joint, bodyPosition } = setup
  if (axisCheck === undefined) return notAssessable('axis_check_not_recorded')
  if (axisCheck.status === 'not_performed') return notAssessable('axis_check_not_performed')
  if (axisCheck.afterLastAdjustment === 'no') return notAssessable('axis_checked_before_last_adjustment')
  if (axisCheck.padPositions === undefined) return notAssessable('pad_positions_not_recorded')
  // The linkage has the thigh level and the shank hanging from it
  if (joint !== 'knee' || bodyPosition !== 'seated') return notAssessable('geometry_of_seated_knee_only')
  const padMountedOn = attachment?.padMountedOn
  if (padMountedOn === undefined || padMountedOn === 'not_recorded') return notAssessable('pad_mount_not_recorded')

  // The lever arm ends at the pad; how far a pad that rides on the shin is from the knee nobody wrote down
  const arm = padMountedOn === 'arm' ? attachment?.leverArmLength : undefined
  const distanceMm = arm === undefined ? null : arm.canonicalValue * 1000
  const readings = axisCheck.padPositions.map(({ angle, position }) => ({
    kneeAngleDeg: angle.canonicalValue,
    padPositionMm: position.canonicalValue * 1000,
  }))
  const readingErrorMm = axisCheck.readingError === undefined ? null : axisCheck.readingError.canonicalValue * 1000
  const estimate = estimateAxisOffset({ readings, readingErrorMm, padMountedOn, distanceMm, scaleStartMm: null })
  if (estimate.forwardMm === null) return notAssessable(estimate.reason, estimate.verdict)
  const { verdict, reason, forwardMm, upMm, halfWidthMm, confidence, move } = estimate
  const [from, to] = rangeOf(setup, readings)
  const errors =
    distanceMm === null ? null : misalignmentOverRange({ forwardMm, upMm }, padMountedOn, distanceMm, from, to)
  return { verdict, reason, forwardMm, upMm, halfWidthMm, confidence, move, errors }
}

/** From stop to stop; where they were not written down, as far as the pad was read. */
function rangeOf({ stops }: SetupDocument, readings: readonly { kneeAngleDeg: number }[]): [number, number] {
  const set = [stops?.extension, stops?.flexion].flatMap((stop) => stop?.canonicalValue ?? [])
  const angles = set.length === 2 ? set : readings.map(({ kneeAngleDeg }) => kneeAngleDeg)
  return [Math.min(...angles), Math.max(...angles)]
}

function notAssessable(reason: string, verdict: AxisOffset['verdict'] = 'not_assessable'): AxisOffset {
  return { verdict, reason, forwardMm: null, upMm: null, halfWidthMm: null, confidence: null, move: null, errors: null }
}
