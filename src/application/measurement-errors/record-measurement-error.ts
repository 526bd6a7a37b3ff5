import { v7 as uuidv7 } from 'uuid'
import { COMPUTE_VERSION } from '../../compute/index.ts'
import { documentError } from '../../domain/errors.ts'
import type { MeasurementErrorDocument } from '../../domain/measurement-error-document.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { seriesKey } from '../../domain/series.ts'
import { insertMeasurementError } from '../../store/measurement-error-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { estimateMeasurementError } from './estimate-measurement-error.ts'
import { representMeasurementError } from './represent-measurement-error.ts'

/** From then on changes of the series are judged with it, where there are pairs enough and the limbs are alike. */
export async function recordMeasurementError(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<MeasurementErrorDocument> },
): Promise<Created> {
  return createOnce(ctx, 'measurement-errors.create', input.once, async (tx, trace) => {
    const { sent, value } = input.document()
    const estimate = estimateMeasurementError(value)
    if (!estimate.ok) throw documentError([estimate.fault])
    const { retest, document } = estimate.value
    const row = {
      id: uuidv7({ msecs: ctx.now.getTime() }),
      series: seriesKey({ ...value, velocityDegS: value.velocity.canonicalValue }),
      measure: value.measure,
      scale: value.scale,
      sem: retest.sem,
      degreesOfFreedom: retest.degreesOfFreedom,
      pairs: retest.pairs,
      meanShiftDetected: retest.meanShiftDetected,
      limbCondition: value.limbCondition,
      source: value.source,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    const { pairs } = sent as { pairs: unknown }
    await insertMeasurementError(tx, {
      ...row,
      document: { pairs, estimate: document, computeVersion: COMPUTE_VERSION },
    })
    trace.resource('measurement-error', row.id)
    const body = representMeasurementError({ ...row, estimate: document, computeVersion: COMPUTE_VERSION })
    return { status: 201, headers: { Location: '/v1/measurement-errors' }, body }
  })
}
