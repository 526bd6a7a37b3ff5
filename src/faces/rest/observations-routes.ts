import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { listObservations } from '../../application/observations/list-observations.ts'
import { recordObservation } from '../../application/observations/record-observation.ts'
import { observationDocument } from '../../domain/observation-document.ts'
import { created, onceKey } from './requests.ts'
import { route, type RestDeps } from './route.ts'
import { creationHeaders, day, id, idParams, instant, listOf } from './schemas/common.ts'

const observation = z
  .strictObject({
    id,
    episodeId: id,
    key: z.string(),
    value: z.string(),
    observedOn: day,
    note: z.string().optional(),
    state: z.enum(['final', 'superseded']).describe('superseded: a newer word on the same key and day took its place'),
    recordedBy: id,
    recordedAt: instant,
  })
  .meta({ id: 'Observation' })

export function observationRoutes(app: FastifyInstance, deps: RestDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/episodes/:episodeId/observations',
    action: 'observations.create',
    tag: 'episodes',
    summary: 'Record what a clinician observed',
    description:
      'Keys: the functional tests of form "observation". A newer one with the same key and day takes its place.',
    params: idParams('episodeId'),
    headers: creationHeaders,
    body: observationDocument,
    answers: { 201: observation },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await recordObservation(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId/observations',
    action: 'observations.list',
    tag: 'episodes',
    summary: 'What clinicians observed in an episode, newest day first',
    params: idParams('episodeId'),
    answers: { 200: listOf(observation) },
    answer: async (ctx, { params }) => ({ body: await listObservations(ctx, params) }),
  })
}
