import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { editComparabilityRules, readComparabilityRules } from '../../application/comparability/comparability-rules.ts'
import { explainComparability } from '../../application/comparability/explain-comparability.ts'
import { etagOf } from '../../application/shared/versions.ts'
import { comparabilityOverridesDocument } from '../../domain/comparability-overrides-document.ts'
import { ifMatch } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { explainedComparability } from '../shapes/comparability.ts'
import { editHeaders, id, instant } from '../shapes/common.ts'

const limit = z.strictObject({
  moreThan: z.number(),
  effect: z.enum(['note', 'caution', 'not_comparable']),
  measures: z.union([z.literal('all'), z.array(z.string())]),
})

const comparabilityRules = z
  .strictObject({
    version: z.number().int().describe('Of the clinic’s own limits; 0: it has none'),
    tableVersion: z.string(),
    recordedAt: instant.nullable(),
    recordedBy: id.nullable(),
    rules: z.array(
      z.strictObject({
        id: z.string(),
        factor: z.string(),
        unit: z.string().nullable(),
        limits: z.array(limit).describe('The effect of a difference greater than this'),
        unknown: z
          .string()
          .optional()
          .describe('What an unknown fact does, where that departs from the worst difference'),
        source: z.string(),
        overridden: z.enum(['yes', 'no']),
      }),
    ),
    overrides: z.array(z.strictObject({ ruleId: z.string(), limits: z.array(limit), reason: z.string().optional() })),
  })
  .meta({ id: 'ComparabilityRules' })

export function comparabilityRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/comparability',
    action: 'comparability.read',
    tag: 'results',
    summary: 'May two results of a subject be compared? Measure by measure, with the reasons',
    description:
      'The earlier one is "before". Of two limbs, one setup is mirrored before it is held against the other.',
    query: z.strictObject({ a: z.uuid(), b: z.uuid() }),
    answers: {
      200: explainedComparability,
    },
    refusals: [422],
    answer: async (ctx, { query }) => ({ body: await explainComparability(ctx, query) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/comparability-rules',
    action: 'comparability-rules.read',
    tag: 'comparability rules',
    summary: 'The rules by which tests are compared, with the clinic’s own limits in force',
    query: z.strictObject({ asKnownAt: z.iso.datetime({ offset: true }).optional() }),
    answers: { 200: comparabilityRules },
    answer: async (ctx, { query }) => {
      const asKnownAt = query.asKnownAt === undefined ? null : new Date(query.asKnownAt)
      const body = await readComparabilityRules(ctx, { asKnownAt })
      return { body, headers: { ETag: etagOf(body.version) } }
    },
  })

  route(app, deps, {
    method: 'PUT',
    url: '/v1/comparability-rules',
    action: 'comparability-rules.edit',
    tag: 'comparability rules',
    summary: 'Put the clinic’s own limits in the table: all of them, replacing the ones before',
    description: 'Stricter at will; looser only with a reason, which then stands in every verdict it gives.',
    headers: editHeaders,
    body: comparabilityOverridesDocument,
    answers: { 200: comparabilityRules },
    refusals: [412, 413, 428],
    answer: async (ctx, { document, request }) => {
      const body = await editComparabilityRules(ctx, { ifMatch: ifMatch(request), document })
      return { body, headers: { ETag: etagOf(body.version) } }
    },
  })
}
