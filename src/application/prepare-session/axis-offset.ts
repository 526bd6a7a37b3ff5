/** What the axis check of a setup says, as far as it says anything. */
import type { SetupDocument } from '../../domain/session-document.ts'
import type { AxisOffset } from './prepared-session.ts'

const NOTHING: Omit<AxisOffset, 'reason'> = {
  forwardMm: null,
  upMm: null,
  halfWidthMm: null,
  confidence: null,
  verdict: 'not_assessable',
}

export function axisOffset({ axisCheck }: SetupDocument): AxisOffset {
  if (axisCheck === undefined) return { ...NOTHING, reason: 'axis_check_not_recorded' }
  if (axisCheck.status === 'not_performed') return { ...NOTHING, reason: 'axis_check_not_performed' }
  return { ...NOTHING, reason: 'pad_positions_not_recorded' }
}
