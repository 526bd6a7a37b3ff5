import { documentError } from '../../domain/errors.ts'
import type { MeasurementErrorDocument } from '../../domain/measurement-error-document.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { seriesOf } from '../../domain/series.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { estimateMeasurementError } from './estimate-measurement-error.ts'
import { resolveErrorScope, storeMeasurementError } from './store-measurement-error.ts'

/** From then on changes of the series are judged with it, where there are pairs enough and the limbs are alike. */
export async function recordMeasurementError(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<MeasurementErrorDocument> },
): Promise<Created> {
  return createOnce(ctx, 'measurement-errors.create', input.once, async (tx, trace) => {
    const { sent, value } = input.document()
    const estimate = estimateMeasurementError(value)
    if (!estimate.ok) throw documentError([estimate.fault])
    const { pairs } = sent as { pairs: unknown }
    const body = await storeMeasurementError(tx, ctx, trace, {
      about: { ...value, series: seriesOf(value) },
      scope: await resolveErrorScope(tx, value),
      pairs,
      estimate: estimate.value,
    })
    return { status: 201, headers: { Location: '/v1/measurement-errors' }, body }
  })
}
