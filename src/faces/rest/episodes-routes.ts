import type { FastifyInstance } from 'fastify'
import { createEpisode } from '../../application/episodes/create-episode.ts'
import { editEpisode } from '../../application/episodes/edit-episode.ts'
import { getEpisode } from '../../application/episodes/get-episode.ts'
import { listEpisodeVersions } from '../../application/episodes/list-episode-versions.ts'
import { listEpisodes } from '../../application/episodes/list-episodes.ts'
import { etagOf } from '../../application/shared/versions.ts'
import { episodeDocument } from '../../domain/episode-document.ts'
import { created, ifMatch, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { episode, episodeVersion } from '../shapes/episode.ts'
import { creationHeaders, editHeaders, idParams, listOf } from '../shapes/common.ts' // prettier-ignore

export function episodeRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/episodes',
    action: 'episodes.create',
    tag: 'episodes',
    summary: 'Create a rehab episode',
    body: episodeDocument,
    headers: creationHeaders,
    answers: { 200: episode, 201: episode },
    refusals: [409, 413, 422],
    answer: async (ctx, input) => created(await createEpisode(ctx, { once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/episodes',
    action: 'episodes.list',
    tag: 'episodes',
    summary: 'List the episodes of a subject',
    params: idParams('subjectId'),
    answers: { 200: listOf(episode) },
    answer: async (ctx, { params }) => ({ body: await listEpisodes(ctx, params) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId',
    action: 'episodes.read',
    tag: 'episodes',
    summary: 'Read an episode',
    params: idParams('episodeId'),
    answers: { 200: episode },
    answer: async (ctx, { params }) => {
      const body = await getEpisode(ctx, params)
      return { body, headers: { ETag: etagOf(body.version) } }
    },
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId/versions',
    action: 'episodes.read',
    tag: 'episodes',
    summary: 'Every version of an episode: who, when',
    params: idParams('episodeId'),
    answers: { 200: listOf(episodeVersion) },
    answer: async (ctx, { params }) => ({ body: await listEpisodeVersions(ctx, params) }),
  })

  route(app, deps, {
    method: 'PUT',
    url: '/v1/episodes/:episodeId',
    action: 'episodes.edit',
    tag: 'episodes',
    summary: 'Edit an episode: a new version',
    params: idParams('episodeId'),
    headers: editHeaders,
    body: episodeDocument,
    answers: { 200: episode },
    refusals: [412, 413, 422, 428],
    answer: async (ctx, { params, document, request }) => {
      const body = await editEpisode(ctx, { ...params, ifMatch: ifMatch(request), document })
      return { body, headers: { ETag: etagOf(body.version) } }
    },
  })
}
