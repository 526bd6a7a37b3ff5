import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { createDynamometer } from '../../application/dynamometers/create-dynamometer.ts'
import { editDynamometer } from '../../application/dynamometers/edit-dynamometer.ts'
import { getDynamometer } from '../../application/dynamometers/get-dynamometer.ts'
import { listCalibrationChecks } from '../../application/dynamometers/list-calibration-checks.ts'
import { listDynamometers } from '../../application/dynamometers/list-dynamometers.ts'
import { readStarterDynamometer } from '../../application/dynamometers/read-starter.ts'
import { recordCalibrationCheck } from '../../application/dynamometers/record-calibration-check.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import { etagOf } from '../../application/shared/versions.ts'
import { calibrationDocument } from '../../domain/calibration-document.ts'
import { dynamometerDocument } from '../../domain/dynamometer-document.ts'
import { created, ifMatch, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { calibrationCheck, dynamometer } from '../shapes/dynamometer.ts'
import { creationHeaders, editHeaders, idParams, listOf, pageOf, pagingQuery } from '../shapes/common.ts' // prettier-ignore

export function dynamometerRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/dynamometers',
    action: 'dynamometers.create',
    tag: 'dynamometers',
    summary: 'Describe a dynamometer',
    description: 'In the words of the clinic: no maker’s scales are built in.',
    body: dynamometerDocument,
    headers: creationHeaders,
    answers: { 200: dynamometer, 201: dynamometer },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await createDynamometer(ctx, { once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/dynamometers',
    action: 'dynamometers.list',
    tag: 'dynamometers',
    summary: 'List dynamometers',
    query: pagingQuery,
    answers: { 200: pageOf(dynamometer) },
    answer: async (ctx, { query }) => ({ body: await listDynamometers(ctx, { page: pageRequest(query) }) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/dynamometers/starter',
    action: 'dynamometers.read',
    tag: 'dynamometers',
    summary: 'A description to begin with: seated knee work in anatomical terms',
    description:
      'A body for POST /v1/dynamometers once the clinic has added its own dials. No maker’s scales are in it.',
    answers: {
      200: z.strictObject({
        document: z.looseObject({
          name: z.string(),
          settings: z.array(z.looseObject({ key: z.string() })),
          attachments: z.array(z.looseObject({ key: z.string() })),
        }),
        notes: z.array(z.string()),
      }),
    },
    answer: async (ctx) => ({ body: readStarterDynamometer(ctx) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/dynamometers/:dynamometerId',
    action: 'dynamometers.read',
    tag: 'dynamometers',
    summary: 'Read a dynamometer, as described now or in a version',
    params: idParams('dynamometerId'),
    query: z.strictObject({ descriptionVersion: z.coerce.number().int().min(1).max(1_000_000).optional() }),
    answers: { 200: dynamometer },
    answer: async (ctx, { params, query }) => {
      const body = await getDynamometer(ctx, { ...params, version: query.descriptionVersion ?? null })
      return { body, headers: { ETag: etagOf(body.descriptionVersion) } }
    },
  })

  route(app, deps, {
    method: 'PUT',
    url: '/v1/dynamometers/:dynamometerId',
    action: 'dynamometers.edit',
    tag: 'dynamometers',
    summary: 'Describe a dynamometer anew: a new version',
    params: idParams('dynamometerId'),
    headers: editHeaders,
    body: dynamometerDocument,
    answers: { 200: dynamometer },
    refusals: [412, 413, 428],
    answer: async (ctx, { params, document, request }) => {
      const body = await editDynamometer(ctx, { ...params, ifMatch: ifMatch(request), document })
      return { body, headers: { ETag: etagOf(body.descriptionVersion) } }
    },
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/dynamometers/:dynamometerId/calibration-checks',
    action: 'calibration-checks.create',
    tag: 'dynamometers',
    summary: 'Record a calibration check: a known weight at a known arm',
    params: idParams('dynamometerId'),
    headers: creationHeaders,
    body: calibrationDocument,
    answers: { 201: calibrationCheck },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await recordCalibrationCheck(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/dynamometers/:dynamometerId/calibration-checks',
    action: 'calibration-checks.list',
    tag: 'dynamometers',
    summary: 'List calibration checks, newest first',
    params: idParams('dynamometerId'),
    answers: { 200: listOf(calibrationCheck) },
    answer: async (ctx, { params }) => ({ body: await listCalibrationChecks(ctx, params) }),
  })
}
