import type { FastifyInstance } from 'fastify'
import { readSymmetry } from '../../application/symmetry/read-symmetry.ts'
import { readTrend } from '../../application/trends/read-trend.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { symmetry, trend } from '../shapes/trend.ts'
import { idParams } from '../shapes/common.ts'
import { symmetryQuery, trendQuery } from '../shapes/queries.ts'
import { symmetryAsk, trendAsk } from '../series-ask.ts'

export function trendRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/trend',
    action: 'trends.read',
    tag: 'trends',
    summary: 'The trend of one limb in one series',
    description:
      'A change is never drawn across tests that may not be compared: the trend splits and says why. No projected dates.',
    params: idParams('subjectId'),
    query: trendQuery,
    answers: { 200: trend },
    answer: async (ctx, { params, query }) => ({
      body: await readTrend(ctx, { ...params, ...trendAsk(query) }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/symmetry',
    action: 'symmetry.read',
    tag: 'trends',
    summary: 'Both limbs side by side, session by session',
    description: 'Symmetry is never clipped and never without both limbs beside it.',
    params: idParams('subjectId'),
    query: symmetryQuery,
    answers: { 200: symmetry },
    answer: async (ctx, { params, query }) => ({ body: await readSymmetry(ctx, { ...params, ...symmetryAsk(query) }) }),
  })
}
