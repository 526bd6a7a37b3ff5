/**
 * How a route for teams is written. Beside route.ts and not within it: another actor, another policy, another database role.
 * A clinic's token is refused here as a team's is there.
 */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { z } from 'zod'
import type { TeamContext } from '../../application/sharing/perform-for-team.ts'
import { AppError } from '../../domain/errors.ts'
import { authenticate } from '../../server/authenticate.ts'
import type { TeamAction } from '../../tenancy/policy.ts'
import { teamContextOf, type FaceDeps } from '../context.ts'
import { parseParams, parseQuery } from '../parse.ts'
import { goodAnswers, operationId, problemAnswers, recordThenRefuse, sendAnswer, type Answer } from './route.ts'

export interface TeamRouteSpec<P extends z.ZodObject, Q extends z.ZodObject> {
  readonly url: string
  readonly action: TeamAction
  readonly summary: string
  readonly description?: string
  readonly params?: P
  readonly query?: Q
  readonly answer200: z.ZodType
  readonly otherTypes?: Readonly<Record<string, z.ZodType>>
  readonly answer: (
    ctx: TeamContext,
    input: { readonly params: z.output<P>; readonly query: z.output<Q>; readonly request: FastifyRequest },
  ) => Promise<Answer>
}

const purposeHeader = z.object({
  purpose: z.string().max(64).describe('A code word that the consents name, e.g. availability-planning'),
})

type NoShape = z.ZodObject<Record<string, never>>

export function teamRoute<P extends z.ZodObject = NoShape, Q extends z.ZodObject = NoShape>(
  app: FastifyInstance,
  deps: FaceDeps,
  spec: TeamRouteSpec<P, Q>,
): void {
  const refusals = [400, 401, 403, ...(spec.params === undefined ? [] : [404]), 503]
  app.route({
    method: 'GET',
    url: spec.url,
    config: { teamAction: spec.action },
    schema: {
      tags: ['teams'],
      summary: spec.summary,
      operationId: operationId('GET', spec.url),
      ...(spec.description === undefined ? {} : { description: spec.description }),
      ...(spec.params === undefined ? {} : { params: spec.params }),
      ...(spec.query === undefined ? {} : { querystring: spec.query }),
      headers: purposeHeader,
      'x-team-action': spec.action,
      security: [{ accessToken: [] }],
      response: { ...goodAnswers({ 200: spec.answer200 }, spec.otherTypes), ...problemAnswers(refusals) },
    },
    onRequest: async (request) => {
      const actor = await authenticate(request, deps.db, deps.verify)
      if (actor.kind !== 'team') throw new AppError('forbidden', { detail: 'Only the reader of a team may do that.' })
    },
    errorHandler: recordThenRefuse(deps, spec.action),
    handler: async (request, reply) => {
      const answer = await spec.answer(teamContextOf(request, deps), {
        params: parseParams(spec.params, request.params) as z.output<P>,
        query: parseQuery(spec.query, request.query) as z.output<Q>,
        request,
      })
      return sendAnswer(reply, answer)
    },
  })
}
