export { misalignmentOverRange, misalignmentPadOnArm, misalignmentPadOnShin } from './linkage.ts'
export type { AxisOffset, Misalignment, MisalignmentOverRange } from './linkage.ts'
export { AXIS_TOLERANCE_MM, estimateAxisOffset, movesFor } from './axis-offset.ts'
export type { AxisCheckReadings, AxisMove, AxisOffsetEstimate, PadReading } from './axis-offset.ts'
