import type { FastifyInstance } from 'fastify'
import { workListQuery } from '../shapes/queries.ts'
import { listOpenFlags } from '../../application/flags/list-open-flags.ts'
import { listSessionFlags } from '../../application/flags/list-session-flags.ts'
import { resolveFlag } from '../../application/flags/resolve-flag.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import { flagResolutionDocument } from '../../domain/flag-resolution-document.ts'
import { created, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { creationHeaders, idParams, listOf, pageOf, pagingQuery } from '../shapes/common.ts'
import { flag, workListItem } from '../shapes/session.ts'

export function flagRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/flags',
    action: 'flags.list',
    tag: 'flags',
    summary: 'The work list: open flags, oldest first',
    query: pagingQuery.extend(workListQuery.shape),
    answers: { 200: pageOf(workListItem) },
    answer: async (ctx, { query }) => ({
      body: await listOpenFlags(ctx, { page: pageRequest(query), level: query.level ?? null }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions/:sessionId/flags',
    action: 'flags.list',
    tag: 'flags',
    summary: 'The flags on a session, open and resolved',
    params: idParams('sessionId'),
    answers: { 200: listOf(flag) },
    answer: async (ctx, { params }) => ({ body: await listSessionFlags(ctx, params) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/flags/:flagId/resolution',
    action: 'flags.resolve',
    tag: 'flags',
    summary: 'Resolve a flag, once, with a reason',
    description:
      'By a clinician with a licence on record. A dismissed hold lets the value count again in trends, symmetry and readiness; a confirmed one keeps it out for good.', // prettier-ignore
    params: idParams('flagId'),
    headers: creationHeaders,
    body: flagResolutionDocument,
    answers: { 201: flag },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await resolveFlag(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })
}
