import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { amendSession } from '../../application/sessions/amend-session.ts'
import { checkSession } from '../../application/sessions/check-session.ts'
import { getSessionComparability } from '../../application/sessions/get-session-comparability.ts'
import { getSession } from '../../application/sessions/get-session.ts'
import { listSessionVersions } from '../../application/sessions/list-session-versions.ts'
import { listSessions } from '../../application/sessions/list-sessions.ts'
import { pushSession } from '../../application/sessions/push-session.ts'
import { withdrawSession } from '../../application/sessions/withdraw-session.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import { etagOf } from '../../application/shared/versions.ts'
import { systemAndValue } from '../system-and-value.ts'
import { externalIdQuery } from '../shapes/queries.ts'
import { amendmentDocument, sessionDocument, withdrawalDocument } from '../../domain/session-document.ts'
import { created, ifMatch, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { creationHeaders, editHeaders, id, idParams, listOf, pageOf, pagingQuery } from '../shapes/common.ts'
import {
  comparabilityEntry,
  pushedSession,
  session,
  sessionSummary,
  sessionVersion,
  withdrawnSession,
} from '../shapes/session.ts'

/** A visit of 12 sets at 1 kHz is 2 MB of JSON. */
const SESSION_BODY_BYTES = 16 * 1024 * 1024

export function sessionRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/sessions',
    action: 'sessions.push',
    tag: 'sessions',
    summary: 'Push one visit as one document',
    description: 'Complete or not there at all. Idempotent by key and, for ever, by external id.',
    body: sessionDocument,
    bodyLimit: SESSION_BODY_BYTES,
    headers: creationHeaders,
    answers: { 200: pushedSession, 201: pushedSession },
    refusals: [409, 413, 422],
    answer: async (ctx, input) => created(await pushSession(ctx, { once: onceKey(input), bytes: input.bytes })),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/calculations/session-check',
    action: 'sessions.check',
    tag: 'calculations',
    summary: 'Dry run of a push: the same answer, nothing stored',
    body: sessionDocument,
    bodyLimit: SESSION_BODY_BYTES,
    answers: { 200: pushedSession },
    refusals: [409, 413, 422],
    answer: async (ctx, { bytes }) => ({ body: await checkSession(ctx, { bytes }) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions',
    action: 'sessions.list',
    tag: 'sessions',
    summary: 'List sessions, of a subject or by external id',
    query: pagingQuery.extend({ subjectId: z.uuid().optional(), ...externalIdQuery.shape }),
    answers: { 200: pageOf(sessionSummary) },
    answer: async (ctx, { query }) => {
      const asked = { subjectId: query.subjectId ?? null, externalId: systemAndValue(query, 'externalId') }
      return { body: await listSessions(ctx, { page: pageRequest(query), ...asked }) }
    },
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions/:sessionId',
    action: 'sessions.read',
    tag: 'sessions',
    summary: 'Read a session: what was sent and what came of it',
    params: idParams('sessionId'),
    answers: { 200: session },
    answer: async (ctx, { params }) => {
      const body = await getSession(ctx, params)
      return { body, headers: { ETag: etagOf(body.session.version) } }
    },
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions/:sessionId/versions',
    action: 'sessions.read',
    tag: 'sessions',
    summary: 'Every version of a session: who, when, why',
    params: idParams('sessionId'),
    answers: { 200: listOf(sessionVersion) },
    answer: async (ctx, { params }) => ({ body: await listSessionVersions(ctx, params) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions/:sessionId/comparability',
    action: 'comparability.read',
    tag: 'sessions',
    summary: 'What a session may be compared with, as of now',
    params: idParams('sessionId'),
    answers: {
      200: z.strictObject({ sessionId: id, version: z.number().int(), comparability: z.array(comparabilityEntry) }),
    },
    answer: async (ctx, { params }) => ({ body: await getSessionComparability(ctx, params) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/sessions/:sessionId/amendments',
    action: 'sessions.amend',
    tag: 'sessions',
    summary: 'Amend a session: a corrected document takes its place',
    description: 'Also moves it to the right subject or side. Earlier versions stay readable.',
    params: idParams('sessionId'),
    headers: editHeaders,
    body: amendmentDocument,
    bodyLimit: SESSION_BODY_BYTES,
    answers: { 200: pushedSession },
    refusals: [409, 412, 413, 422, 428],
    answer: async (ctx, { params, request, bytes }) => {
      const body = await amendSession(ctx, { ...params, ifMatch: ifMatch(request), bytes })
      return { body, headers: { ETag: etagOf(body.session.version) } }
    },
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/sessions/:sessionId/entered-in-error',
    action: 'sessions.withdraw',
    tag: 'sessions',
    summary: 'Withdraw a session that was entered in error',
    params: idParams('sessionId'),
    headers: editHeaders,
    body: withdrawalDocument,
    answers: { 200: withdrawnSession },
    refusals: [409, 412, 413, 428],
    answer: async (ctx, { params, request, document }) => {
      const body = await withdrawSession(ctx, { ...params, ifMatch: ifMatch(request), document })
      return { body, headers: { ETag: etagOf(body.session.version) } }
    },
  })
}
