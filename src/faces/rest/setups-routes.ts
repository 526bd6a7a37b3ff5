import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { createTestPlan } from '../../application/setups/create-test-plan.ts'
import { listReferenceSetups } from '../../application/setups/list-reference-setups.ts'
import { listTestPlans } from '../../application/setups/list-test-plans.ts'
import { pinReferenceSetup } from '../../application/setups/pin-reference-setup.ts'
import { preflight } from '../../application/setups/preflight.ts'
import { readNextSetup } from '../../application/setups/read-next-setup.ts'
import { JOINTS, SIDES } from '../../domain/code-lists.ts'
import { preflightQuestion } from '../../domain/preflight-document.ts'
import { referenceSetupDocument } from '../../domain/reference-setup-document.ts'
import { testPlanDocument } from '../../domain/test-plan-document.ts'
import { NEXT_SETUP_PAGE_POLICY, renderNextSetupPage } from '../pages/next-setup-page.ts'
import { created, onceKey, prefers } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { creationHeaders, idParams, listOf } from '../shapes/common.ts'
import { nextSetupQuery } from '../shapes/queries.ts'
import { nextSetup, preflightAnswer, referenceSetup, testPlan } from '../shapes/setup.ts'

const yes = z.enum(['yes', 'no']).optional()
const limbFilter = { joint: z.enum(JOINTS).optional(), side: z.enum(SIDES).optional(), dynamometerId: z.uuid().optional() } // prettier-ignore

export function setupRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/reference-setups',
    action: 'reference-setups.pin',
    tag: 'setups',
    summary: 'Pin the setup of a session as the reference of that limb on that machine',
    description:
      'The only way a reference changes, with a reason on record; the one before stays readable. Later setups are held against it, so that tolerated steps cannot add up.', // prettier-ignore
    params: idParams('subjectId'),
    headers: creationHeaders,
    body: referenceSetupDocument,
    answers: { 201: referenceSetup },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await pinReferenceSetup(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/reference-setups',
    action: 'reference-setups.list',
    tag: 'setups',
    summary: 'Pinned setups of a subject: those in force, or with history=yes every one, newest first',
    params: idParams('subjectId'),
    query: z.strictObject({ ...limbFilter, history: yes, asKnownAt: z.iso.datetime({ offset: true }).optional() }),
    answers: { 200: listOf(referenceSetup) },
    answer: async (ctx, { params, query }) => {
      const { history, asKnownAt, joint, side, dynamometerId } = query
      const limb = {
        ...(joint === undefined ? {} : { joint }),
        ...(side === undefined ? {} : { side }),
        ...(dynamometerId === undefined ? {} : { dynamometerId }),
      }
      const known = asKnownAt === undefined ? null : new Date(asKnownAt)
      return { body: await listReferenceSetups(ctx, { ...params, history: history === 'yes', asKnownAt: known, limb }) }
    },
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/next-setup',
    action: 'next-setup.read',
    tag: 'setups',
    summary: 'How to set this limb up next, in the order of the work; as JSON or as one page to print',
    description:
      'Every value says where it comes from. What must be measured anew is never carried over and never mirrored. What breaks a precaution today is left out of the planned test and named.', // prettier-ignore
    params: idParams('subjectId'),
    query: nextSetupQuery,
    answers: { 200: nextSetup },
    otherTypes: { 'text/html': z.string() },
    refusals: [422],
    answer: async (ctx, { params, query, request }) => {
      const { on, ...limb } = query
      const body = await readNextSetup(ctx, { limb: { ...params, ...limb }, on: on ?? null })
      const vary = { Vary: 'Accept' }
      if (!prefers(request, 'text/html', 'application/json')) return { body, headers: vary }
      const headers = { ...vary, 'Content-Security-Policy': NEXT_SETUP_PAGE_POLICY }
      return { body: renderNextSetupPage(body), type: 'text/html; charset=utf-8', headers }
    },
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/test-plans',
    action: 'test-plans.create',
    tag: 'setups',
    summary: 'Plan a test; refused where it breaks a precaution and no clinician says why',
    params: idParams('subjectId'),
    headers: creationHeaders,
    body: testPlanDocument,
    answers: { 201: testPlan },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await createTestPlan(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/test-plans',
    action: 'test-plans.list',
    tag: 'setups',
    summary: 'Plans of a subject, newest first',
    params: idParams('subjectId'),
    answers: { 200: listOf(testPlan) },
    answer: async (ctx, { params }) => ({ body: await listTestPlans(ctx, params) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/calculations/preflight',
    action: 'preflight.run',
    tag: 'calculations',
    summary: 'A draft setup: will each measure compare with the reference, and if not, what to put back',
    body: preflightQuestion,
    answers: { 200: preflightAnswer },
    refusals: [413, 422],
    answer: async (ctx, { document }) => ({ body: await preflight(ctx, { document }) }),
  })
}
