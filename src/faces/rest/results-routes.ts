import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { getResult } from '../../application/results/get-result.ts'
import { listSessionResults } from '../../application/results/list-session-results.ts'
import { listSeries } from '../../application/series/list-series.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { id, idParams, listOf, versionQuery } from '../shapes/common.ts'
import { resultDetail, series } from '../shapes/result.ts'
import { result } from '../shapes/session.ts'

export function resultRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/results/:resultId',
    action: 'results.read',
    tag: 'results',
    summary: 'One result, followed back to its repetitions, setup, recording and method',
    params: idParams('resultId'),
    answers: { 200: resultDetail },
    answer: async (ctx, { params }) => ({ body: await getResult(ctx, params) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions/:sessionId/results',
    action: 'results.read',
    tag: 'results',
    summary: 'The results of a session, in force or of a version',
    params: idParams('sessionId'),
    query: versionQuery,
    answers: { 200: z.strictObject({ sessionId: id, version: z.number().int(), items: z.array(result) }) },
    answer: async (ctx, { params, query }) => ({
      body: await listSessionResults(ctx, { ...params, version: query.version ?? null }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/series',
    action: 'series.list',
    tag: 'results',
    summary: 'The series a subject has been tested in, and the measures each has values of',
    params: idParams('subjectId'),
    answers: { 200: listOf(series) },
    answer: async (ctx, { params }) => ({ body: await listSeries(ctx, params) }),
  })
}
