import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { explainComparability } from '../../application/comparability/explain-comparability.ts'
import { route, type RestDeps } from './route.ts'
import { id, instant } from './schemas/common.ts'
import { comparabilityReason, comparabilityVerdict, result } from './schemas/session.ts'

const comparedResult = result
  .omit({ id: true, measures: true, repetitions: true, method: true })
  .extend({ resultId: id, sessionId: id, startedAt: instant })
  .meta({ id: 'ComparedResult' })

export function comparabilityRoutes(app: FastifyInstance, deps: RestDeps): void {
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
      200: z.strictObject({
        before: comparedResult,
        now: comparedResult,
        acrossLimbs: z.boolean(),
        measures: z.array(
          z.strictObject({
            measure: z.string(),
            verdict: comparabilityVerdict,
            reasons: z.array(comparabilityReason).describe('Gravest first'),
          }),
        ),
      }),
    },
    refusals: [422],
    answer: async (ctx, { query }) => ({ body: await explainComparability(ctx, query) }),
  })
}
