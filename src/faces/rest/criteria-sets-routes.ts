import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { readCriteriaSet, readCriteriaSets } from '../../application/criteria-sets/read-criteria-sets.ts'
import { wordKey } from '../../domain/shapes.ts'
import { route, type RestDeps } from './route.ts'
import { listOf, plainQuantity } from './schemas/common.ts'

const threshold = z.union([
  plainQuantity,
  z.strictObject({ bySex: z.strictObject({ female: plainQuantity, male: plainQuantity }) }),
  z.string().describe('What a clinician observed'),
])

const criterion = z
  .looseObject({
    key: z.string(),
    kind: z.string(),
    measure: z.string(),
    comparator: z.enum(['<', '<=', '>', '>=', 'is']),
    threshold,
    maximumAgeDays: z.number().nullable(),
  })
  .meta({
    id: 'Criterion',
    description: 'What else it says depends on its kind: series, test, questionnaire, observation',
  })

const criteriaSet = z
  .strictObject({
    key: z.string(),
    version: z.number().int(),
    origin: z.enum(['published', 'clinic']),
    title: z.string(),
    citation: z.string(),
    population: z.strictObject({
      description: z.string(),
      sex: z.enum(['female', 'male']).nullable(),
      sportLevels: z.array(z.string()).nullable(),
      ageYears: z.strictObject({ from: z.number(), to: z.number() }).nullable(),
    }),
    rule: z.union([
      z.strictObject({ kind: z.literal('all') }),
      z.strictObject({ kind: z.literal('at_least'), count: z.number().int() }),
    ]),
    criteria: z.array(criterion),
    limits: z.string().describe('What the publication can and cannot tell'),
    fromMemory: z.string().describe('What in this encoding does not come from the text that was read'),
  })
  .meta({ id: 'CriteriaSet' })

export function criteriaSetRoutes(app: FastifyInstance, deps: RestDeps): void {
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
}
