import type { FastifyInstance } from 'fastify'
import { listMeasurementErrors } from '../../application/measurement-errors/list-measurement-errors.ts'
import { recordMeasurementError } from '../../application/measurement-errors/record-measurement-error.ts'
import { adoptRepeatTests, readRepeatTests } from '../../application/measurement-errors/repeat-tests.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import { measurementErrorDocument } from '../../domain/measurement-error-document.ts'
import { repeatTestsDocument } from '../../domain/repeat-tests-document.ts'
import { created, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { measurementError, repeatTests } from '../shapes/measurement-error.ts'
import { creationHeaders, pageOf, pagingQuery } from '../shapes/common.ts'
import { repeatTestsQuery } from '../shapes/queries.ts'
import { repeatTestsAsk } from '../series-ask.ts'

/** A thousand pairs, each number with its unit. */
const PAIRS_BODY_BYTES = 256 * 1024

export function measurementErrorRoutes(app: FastifyInstance, deps: FaceDeps): void {
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
    url: '/v1/measurement-errors/from-repeats',
    action: 'measurement-errors.list',
    tag: 'measurement errors',
    summary: 'What the clinic’s repeat tests say of its measurement error: of all, by operator, by machine, by both',
    description:
      'A session with the purpose repeat_test and the one it repeats make a pair; one pair a person. Setups that may not be compared, other limbs and held values are left out, and named.', // prettier-ignore
    query: repeatTestsQuery,
    answers: { 200: repeatTests },
    answer: async (ctx, { query }) => ({ body: await readRepeatTests(ctx, repeatTestsAsk(query)) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/measurement-errors/from-repeats',
    action: 'measurement-errors.create',
    tag: 'measurement errors',
    summary: 'Adopt the clinic’s repeat tests as its own measurement error of a series',
    description: 'Used to judge changes from 10 pairs on, in limbs like those tested.',
    headers: creationHeaders,
    body: repeatTestsDocument,
    answers: { 201: measurementError },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await adoptRepeatTests(ctx, { once: onceKey(input), document: input.document })),
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
