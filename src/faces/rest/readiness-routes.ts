import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { assessReadiness, compareReadiness } from '../../application/readiness/assess-readiness.ts'
import { wordKey } from '../../domain/shapes.ts'
import { route, type RestDeps } from './route.ts'
import { day, id, idParams, instant, plainQuantity } from './schemas/common.ts'
import { comparabilityVerdict, interval } from './schemas/session.ts'

const orReason = z.strictObject({ value: z.number().nullable(), unit: z.string(), reason: z.string().optional() })

export const criterionAnswer = z
  .strictObject({
    key: z.string(),
    verdict: z.enum(['met', 'not_met', 'not_assessable']),
    reason: z.string().nullable(),
    measure: z.string(),
    comparator: z.enum(['<', '<=', '>', '>=', 'is']),
    threshold: z.union([plainQuantity, z.string(), z.null()]),
    observed: z.union([
      z.strictObject({ value: z.number(), unit: z.string(), interval: interval.optional() }),
      z.string(),
      z.null(),
    ]),
    distance: plainQuantity.nullable(),
    intervalSpansThreshold: z.boolean().nullable(),
    age: plainQuantity.nullable(),
    comparability: comparabilityVerdict.nullable(),
    evidence: z.array(
      z.union([
        z.strictObject({ resultId: id, measure: z.string(), statistic: z.string() }),
        z.strictObject({ functionalResultId: id }),
        z.strictObject({ observationId: id }),
      ]),
    ),
    beside: z.strictObject({ estimatedPreInjuryCapacity: orReason }).nullable(),
    notes: z.array(z.string()),
  })
  .meta({ id: 'CriterionAnswer' })

export const readiness = z
  .strictObject({
    episodeId: id,
    subjectId: id,
    on: day,
    asKnownAt: instant,
    involvedSide: z.string().nullable(),
    sinceSurgery: plainQuantity.nullable(),
    criteriaSet: z.strictObject({
      key: z.string(),
      version: z.number().int(),
      title: z.string(),
      citation: z.string(),
      population: z.string(),
      limits: z.string(),
      fromMemory: z.string(),
      rule: z.strictObject({ kind: z.enum(['all', 'at_least']), count: z.number().int().optional() }),
      populationMatches: z.enum(['yes', 'no', 'unknown']),
      populationNote: z.string().nullable(),
    }),
    overall: z.enum(['all_criteria_met', 'required_criteria_met', 'criteria_not_met', 'not_assessable']),
    counts: z.strictObject({
      met: z.number().int(),
      notMet: z.number().int(),
      notAssessable: z.number().int(),
    }),
    criteria: z.array(criterionAnswer).describe('Not assessable first, then not met, then met within error, then met'),
    toAssess: z.array(z.strictObject({ criterion: z.string(), needs: z.string() })),
    expiresOn: day.nullable(),
    notes: z.array(z.string()),
    computeVersion: z.string(),
    referenceDataVersion: z.string(),
  })
  .meta({ id: 'Readiness' })

/** "kyritsis-2016,own-set@2", or the parameter repeated. */
const wantedSets = z
  .union([z.string(), z.array(z.string())])
  .transform((sent) => [sent].flat().flatMap((text) => text.split(',')))
  .pipe(
    z
      .array(z.string().regex(/^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}(@[1-9][0-9]{0,5})?$/))
      .min(1)
      .max(10),
  )
  .transform((names) =>
    names.map((name) => {
      const [key = '', version] = name.split('@')
      return { key, version: version === undefined ? null : Number(version) }
    }),
  )

export function readinessRoutes(app: FastifyInstance, deps: RestDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId/readiness',
    action: 'readiness.read',
    tag: 'readiness',
    summary: 'Criteria met, not met or not assessable on a date',
    description: 'Never a decision: that is a licensed clinician’s, and the local protocol comes first.',
    params: idParams('episodeId'),
    query: z.strictObject({
      criteriaSet: wordKey.optional().describe('Key of a set; the one of the episode if absent'),
      criteriaSetVersion: z.coerce.number().int().min(1).max(1_000_000).optional(),
      on: z.iso.date().optional().describe('Date evaluated; today if absent'),
      asKnownAt: z.iso.datetime({ offset: true }).optional(),
    }),
    answers: { 200: readiness },
    answer: async (ctx, { params, query }) => ({
      body: await assessReadiness(ctx, {
        ...params,
        criteriaSet:
          query.criteriaSet === undefined
            ? null
            : { key: query.criteriaSet, version: query.criteriaSetVersion ?? null },
        on: query.on ?? null,
        asKnownAt: query.asKnownAt === undefined ? null : new Date(query.asKnownAt),
      }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId/readiness/compare',
    action: 'readiness.read',
    tag: 'readiness',
    summary: 'Several criteria sets side by side, over one reading of the record',
    params: idParams('episodeId'),
    query: z.strictObject({
      criteriaSet: wantedSets.describe(
        'Keys, or key@version; separated by commas, or the parameter repeated; up to 10',
      ),
      on: z.iso.date().optional().describe('Date evaluated; today if absent'),
      asKnownAt: z.iso.datetime({ offset: true }).optional(),
    }),
    answers: {
      200: z
        .strictObject({ episodeId: id, on: day, asKnownAt: instant, sets: z.array(readiness) })
        .meta({ id: 'ReadinessComparison' }),
    },
    answer: async (ctx, { params, query }) => ({
      body: await compareReadiness(ctx, {
        ...params,
        criteriaSets: query.criteriaSet,
        on: query.on ?? null,
        asKnownAt: query.asKnownAt === undefined ? null : new Date(query.asKnownAt),
      }),
    }),
  })
}
