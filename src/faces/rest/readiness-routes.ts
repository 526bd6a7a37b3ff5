import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { assessReadiness, compareReadiness } from '../../application/readiness/assess-readiness.ts'
import { readinessAsk } from '../readiness-ask.ts'
import { readinessQuery } from '../shapes/queries.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { day, id, idParams, instant } from '../shapes/common.ts'
import { readiness } from '../shapes/readiness.ts'

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

export function readinessRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId/readiness',
    action: 'readiness.read',
    tag: 'readiness',
    summary: 'Criteria met, not met or not assessable on a date',
    description: 'Never a decision: that is a licensed clinician’s, and the local protocol comes first.',
    params: idParams('episodeId'),
    query: readinessQuery,
    answers: { 200: readiness },
    answer: async (ctx, { params, query }) => ({
      body: await assessReadiness(ctx, { ...params, ...readinessAsk(query) }),
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
