import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { listMeasurementErrors } from '../../application/measurement-errors/list-measurement-errors.ts'
import { recordMeasurementError } from '../../application/measurement-errors/record-measurement-error.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import { LIMB_CONDITIONS, measurementErrorDocument } from '../../domain/measurement-error-document.ts'
import { created, onceKey } from './requests.ts'
import { route, type RestDeps } from './route.ts'
import { creationHeaders, id, instant, pageOf, pagingQuery, plainQuantity } from './schemas/common.ts'
import { interval } from './schemas/session.ts'

/** A thousand pairs, each number with its unit. */
const PAIRS_BODY_BYTES = 256 * 1024

const measurementError = z
  .strictObject({
    id,
    joint: z.string(),
    movement: z.string(),
    contractionMode: z.string(),
    contractionScheme: z.string(),
    velocity: plainQuantity,
    measure: z.string(),
    scale: z.enum(['absolute', 'percent']),
    limbCondition: z.enum(LIMB_CONDITIONS),
    source: z.string(),
    pairs: z.number().int(),
    minimumPairs: z.number().int().describe('Below this it is kept and not used to judge changes'),
    standardErrorOfMeasurement: plainQuantity.extend({ interval }).describe('A shift between the tests left in'),
    typicalError: plainQuantity.describe('A shift between the tests taken out'),
    minimalDetectableChange: z
      .strictObject({ rise: plainQuantity, fall: plainQuantity, confidence: z.number() })
      .describe('Of the difference of two tests; in percent a fall is smaller than a rise'),
    learningShift: plainQuantity
      .extend({ pValue: z.number().nullable(), detected: z.enum(['yes', 'no']) })
      .describe('Second test minus first, on average'),
    intraclassCorrelation: z.union([
      z.strictObject({
        forms: z.array(z.strictObject({ form: z.string(), value: z.number(), interval: interval.nullable() })),
      }),
      z.strictObject({ reason: z.string() }),
    ]),
    notes: z.array(z.strictObject({ code: z.string(), message: z.string() })),
    computeVersion: z.string(),
    recordedBy: id,
    recordedAt: instant,
  })
  .meta({ id: 'MeasurementError' })

export function measurementErrorRoutes(app: FastifyInstance, deps: RestDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/measurement-errors',
    action: 'measurement-errors.create',
    tag: 'measurement errors',
    summary: 'Record pairs of tests: the clinic’s own measurement error of a series',
    description:
      'One pair a person, the second test after setting up anew. From 10 pairs on, changes in that series are judged with it, in limbs like those tested.', // prettier-ignore
    headers: creationHeaders,
    body: measurementErrorDocument,
    bodyLimit: PAIRS_BODY_BYTES,
    answers: { 201: measurementError },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await recordMeasurementError(ctx, { once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/measurement-errors',
    action: 'measurement-errors.list',
    tag: 'measurement errors',
    summary: 'The clinic’s own measurement errors, oldest first',
    query: pagingQuery,
    answers: { 200: pageOf(measurementError) },
    answer: async (ctx, { query }) => ({ body: await listMeasurementErrors(ctx, { page: pageRequest(query) }) }),
  })
}
