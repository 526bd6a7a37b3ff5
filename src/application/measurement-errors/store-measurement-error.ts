import { v7 as uuidv7 } from 'uuid'
import { COMPUTE_VERSION, type ErrorScope } from '../../compute/index.ts'
import type { MeasurementErrorDocument } from '../../domain/measurement-error-document.ts'
import type { PersonReference, RecordReference } from '../../domain/reference.ts'
import { seriesKey, type Series } from '../../domain/series.ts'
import { insertMeasurementError } from '../../store/measurement-error-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { Trace } from '../perform.ts'
import { resolveDynamometer, resolveMember } from '../shared/references.ts'
import type { MeasurementErrorEstimate } from './estimate-measurement-error.ts'
import { representMeasurementError, type MeasurementErrorRepresentation } from './represent-measurement-error.ts'

type About = Pick<MeasurementErrorDocument, 'measure' | 'scale' | 'limbCondition' | 'source'>

/** An estimate with the pairs it rests on, whether written by someone or found among the clinic's repeat tests. */
export async function storeMeasurementError(
  tx: ClinicTx,
  ctx: Context,
  trace: Trace,
  entry: {
    readonly about: About & { readonly series: Series }
    readonly scope: ErrorScope
    readonly pairs: unknown
    readonly estimate: MeasurementErrorEstimate
  },
): Promise<MeasurementErrorRepresentation> {
  const { about, scope, pairs, estimate } = entry
  const { retest, document } = estimate
  const row = {
    id: uuidv7({ msecs: ctx.now.getTime() }),
    series: seriesKey(about.series),
    measure: about.measure,
    scale: about.scale,
    sem: retest.sem,
    degreesOfFreedom: retest.degreesOfFreedom,
    pairs: retest.pairs,
    meanShiftDetected: retest.meanShiftDetected,
    limbCondition: about.limbCondition,
    source: about.source,
    operatorId: scope.operatorId,
    dynamometerId: scope.dynamometerId,
    recordedBy: ctx.actor.principalId,
    recordedAt: ctx.now,
  }
  await insertMeasurementError(tx, { ...row, document: { pairs, estimate: document, computeVersion: COMPUTE_VERSION } })
  trace.resource('measurement-error', row.id)
  return representMeasurementError({ ...row, estimate: document, computeVersion: COMPUTE_VERSION })
}

/** Whose tests a document speaks of. */
export async function resolveErrorScope(
  tx: ClinicTx,
  { operator, dynamometer }: { operator?: PersonReference | undefined; dynamometer?: RecordReference | undefined },
): Promise<ErrorScope> {
  return {
    operatorId: operator === undefined ? null : await resolveMember(tx, operator, '#/operator'),
    dynamometerId: dynamometer === undefined ? null : await resolveDynamometer(tx, dynamometer, '#/dynamometer'),
  }
}
