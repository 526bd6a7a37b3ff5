/** Pad positions at angles to the offset of the axes, what it does to torque and angle, and what to move which way. */
import {
  AXIS_TOLERANCE_MM,
  estimateAxisOffset,
  misalignmentOverRange,
  type AxisOffset,
} from '../../compute/alignment/index.ts'
import type { AxisOffsetQuestion } from '../../domain/calculation-documents.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { AXIS_SOURCE, describeAxisErrors, describeAxisMove, millimetres } from '../prepare-session/axis-words.ts'

const mm = (length: { canonicalValue: number } | undefined): number | null =>
  length === undefined ? null : length.canonicalValue * 1000

export async function calculateAxisOffset(ctx: Context, input: { document: LazyDocument<AxisOffsetQuestion> }) {
  return perform(ctx, 'calculations.run', (_tx, trace) => {
    trace.detail('calculation', 'axis-offset')
    return Promise.resolve(answer(input.document().value))
  })
}

function answer(asked: AxisOffsetQuestion) {
  const toleranceMm = mm(asked.tolerance) ?? AXIS_TOLERANCE_MM
  const estimate = estimateAxisOffset(
    {
      readings: asked.padPositions.map(({ angle, position }) => ({
        kneeAngleDeg: angle.canonicalValue,
        padPositionMm: position.canonicalValue * 1000,
      })),
      readingErrorMm: mm(asked.readingError),
      padMountedOn: asked.padMountedOn,
      distanceMm: mm(asked.padDistance),
      scaleStartMm: mm(asked.readingsBeginAt),
    },
    toleranceMm,
    asked.confidence ?? 0.95,
  )
  const verdict = { verdict: estimate.verdict, tolerance: millimetres(toleranceMm), source: AXIS_SOURCE }
  if (estimate.forwardMm === null)
    return { ...verdict, reason: estimate.reason, offset: null, errors: null, move: null }
  const { forwardMm, upMm, confidence, forwardHalfWidthMm, upHalfWidthMm } = estimate
  return {
    ...verdict,
    ...(estimate.reason === null ? {} : { reason: estimate.reason }),
    offset: {
      forward: { ...millimetres(forwardMm), halfWidth: millimetres(forwardHalfWidthMm) },
      up: { ...millimetres(upMm), halfWidth: millimetres(upHalfWidthMm) },
      confidence,
    },
    errors: errorsOf({ forwardMm, upMm }, asked),
    move: estimate.move === null ? null : estimate.move.map((move) => describeAxisMove(move, asked.side)),
  }
}

/** An unknown pad distance leaves the errors unknown too: the fitted one rests on the same few readings. */
function errorsOf(offset: AxisOffset, asked: AxisOffsetQuestion) {
  const distanceMm = mm(asked.padDistance)
  if (distanceMm === null) return null
  const angles = asked.padPositions.map(({ angle }) => angle.canonicalValue)
  const from = asked.range?.from.canonicalValue ?? Math.min(...angles)
  const to = asked.range?.to.canonicalValue ?? Math.max(...angles)
  const range = misalignmentOverRange(offset, asked.padMountedOn, distanceMm, from, to)
  return range === null ? null : describeAxisErrors(range)
}
