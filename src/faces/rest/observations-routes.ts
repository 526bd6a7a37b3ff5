import type { FastifyInstance } from 'fastify'
import { listObservations } from '../../application/observations/list-observations.ts'
import { recordObservation } from '../../application/observations/record-observation.ts'
import { observationDocument } from '../../domain/observation-document.ts'
import { created, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { observation } from '../shapes/observation.ts'
import { creationHeaders, idParams, listOf } from '../shapes/common.ts'

export function observationRoutes(app: FastifyInstance, deps: FaceDeps): void {
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
