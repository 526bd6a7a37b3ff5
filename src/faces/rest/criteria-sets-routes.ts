import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { addCriteriaSet } from '../../application/criteria-sets/add-criteria-set.ts'
import { readCriteriaSet, readCriteriaSets } from '../../application/criteria-sets/read-criteria-sets.ts'
import { retireOwnCriteriaSet } from '../../application/criteria-sets/retire-criteria-set.ts'
import { criteriaSetDocument, retirementDocument } from '../../domain/criteria-set-document.ts'
import { wordKey } from '../../domain/shapes.ts'
import { created, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { criteriaSet } from '../shapes/criteria-set.ts'
import { creationHeaders, instant, listOf } from '../shapes/common.ts'

export function criteriaSetRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/criteria-sets',
    action: 'criteria-sets.read',
    tag: 'criteria sets',
    summary: 'Published criteria sets, then the clinic’s own',
    answers: { 200: listOf(criteriaSet) },
    answer: async (ctx) => ({ body: await readCriteriaSets(ctx) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/criteria-sets/:key',
    action: 'criteria-sets.read',
    tag: 'criteria sets',
    summary: 'One criteria set, in its newest version or the one asked for',
    params: z.strictObject({ key: wordKey }),
    query: z.strictObject({ version: z.coerce.number().int().min(1).max(1_000_000).optional() }),
    answers: { 200: criteriaSet },
    answer: async (ctx, { params, query }) => ({
      body: await readCriteriaSet(ctx, { ...params, version: query.version ?? null }),
    }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/criteria-sets',
    action: 'criteria-sets.create',
    tag: 'criteria sets',
    summary: 'Add a criteria set of the clinic’s own, or its next version',
    description:
      'A key of a published set cannot be taken. A version is never changed: send the whole set again under its key and the next one is made; the same words again answer the version that is there (200).', // prettier-ignore
    headers: creationHeaders,
    body: criteriaSetDocument,
    answers: { 200: criteriaSet, 201: criteriaSet },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await addCriteriaSet(ctx, { once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/criteria-sets/:key/retirement',
    action: 'criteria-sets.retire',
    tag: 'criteria sets',
    summary: 'Retire a criteria set of the clinic’s own, in all its versions',
    description: 'Out of the list; what names a version of it still reads that version. Sent anew under its key it comes back as the next version.', // prettier-ignore
    params: z.strictObject({ key: wordKey }),
    headers: creationHeaders,
    body: retirementDocument,
    answers: {
      201: z
        .strictObject({ key: z.string(), newestVersion: z.number().int(), retiredAt: instant, reason: z.string() })
        .meta({ id: 'Retirement' }),
    },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await retireOwnCriteriaSet(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })
}
