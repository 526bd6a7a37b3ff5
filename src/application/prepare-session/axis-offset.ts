/** What the axis check of a setup says, as far as it says anything. */
import { estimateAxisOffset } from '../../compute/alignment/index.ts'
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

  const estimate = estimateAxisOffset({
    readings: axisCheck.padPositions.map(({ angle, position }) => ({
      kneeAngleDeg: angle.canonicalValue,
      padPositionMm: position.canonicalValue * 1000,
    })),
    readingErrorMm: axisCheck.readingError === undefined ? null : axisCheck.readingError.canonicalValue * 1000,
    padMountedOn,
    // The lever arm ends at the pad; how far a pad that rides on the shin is from the knee nobody wrote down
    distanceMm:
      padMountedOn === 'arm' && attachment?.leverArmLength !== undefined
        ? attachment.leverArmLength.canonicalValue * 1000
        : null,
    scaleStartMm: null,
  })
  if (estimate.forwardMm === null) return notAssessable(estimate.reason, estimate.verdict)
  const { verdict, reason, forwardMm, upMm, halfWidthMm, confidence, move } = estimate
  return { verdict, reason, forwardMm, upMm, halfWidthMm, confidence, move }
}

function notAssessable(reason: string, verdict: AxisOffset['verdict'] = 'not_assessable'): AxisOffset {
  return { verdict, reason, forwardMm: null, upMm: null, halfWidthMm: null, confidence: null, move: null }
}
