/**
 * How a REST route is written: what it is (for OpenAPI), which action it is (for the policy), and one function that
 * translates: parsed input in, answer out. Order of refusals: 401, 403, 404, 428, 412, then 400 and 422; so the body is
 * handed over unread and the use case reads it when its turn comes.
 */
import { Readable } from 'node:stream'
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { z } from 'zod'
import type { Context } from '../../application/context.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { authenticate } from '../../server/authenticate.ts'
import { translate } from '../../server/problem.ts'
import type { TeamActor } from '../../tenancy/actor.ts'
import { authorise, POLICY, type Action, type Attempt, type TeamAction } from '../../tenancy/policy.ts'
import { problemSchema } from '../../server/problem-schema.ts'
import { contextOf, requirePurposeWord, type FaceDeps } from '../context.ts'
import { audited, recordOutcome } from '../audited.ts'
import { parseDocument, parseParams, parseQuery } from '../parse.ts'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** What the route does, for the policy of its kind of actor. */
    action?: Action
    teamAction?: TeamAction
  }
}

export interface Answer {
  readonly status?: 200 | 201
  readonly headers?: Readonly<Record<string, string>>
  /** An object to serialise, or text that is JSON already (a stored answer replayed byte for byte). */
  readonly body: unknown
  /** Media type of a body that is bytes already, or text that comes piece by piece. */
  readonly type?: string
}

export interface RouteInput<P, Q, B> {
  readonly params: P
  readonly query: Q
  /** Reads and validates the body; throws the 400 with every fault. */
  readonly document: LazyDocument<B>
  readonly bytes: Uint8Array
  readonly request: FastifyRequest
}

export interface RouteSpec<P extends z.ZodObject, Q extends z.ZodObject, B extends z.ZodType> {
  readonly method: 'GET' | 'POST' | 'PUT'
  readonly url: string
  readonly action: Action
  readonly tag: string
  readonly summary: string
  readonly description?: string
  readonly params?: P
  readonly query?: Q
  readonly body?: B
  readonly headers?: z.ZodObject
  readonly answers: Readonly<Record<number, z.ZodType>>
  /** What a 200 may also be, by media type. */
  readonly otherTypes?: Readonly<Record<string, z.ZodType>>
  readonly refusals?: readonly number[]
  readonly bodyLimit?: number
  readonly answer: (ctx: Context, input: RouteInput<z.output<P>, z.output<Q>, z.output<B>>) => Promise<Answer>
  /** The few routes that a team token may call say what it gets; every other refuses it. */
  readonly answerTeam?: (actor: TeamActor) => Answer
}

type NoShape = z.ZodObject<Record<string, never>>

export function route<
  P extends z.ZodObject = NoShape,
  Q extends z.ZodObject = NoShape,
  B extends z.ZodType = z.ZodType,
>(app: FastifyInstance, deps: FaceDeps, spec: RouteSpec<P, Q, B>): void {
  const refusals = [
    400,
    401,
    403,
    ...(spec.params === undefined ? [] : [404]),
    ...(spec.body === undefined ? [] : [415]),
    503,
    ...(spec.refusals ?? []),
  ]
  app.route({
    method: spec.method,
    url: spec.url,
    ...(spec.bodyLimit === undefined ? {} : { bodyLimit: spec.bodyLimit }),
    config: { action: spec.action },
    schema: {
      tags: [spec.tag],
      summary: spec.summary,
      operationId: operationId(spec.method, spec.url),
      ...(spec.description === undefined ? {} : { description: spec.description }),
      ...(spec.params === undefined ? {} : { params: spec.params }),
      ...(spec.query === undefined ? {} : { querystring: spec.query }),
      ...(spec.body === undefined ? {} : { body: spec.body }),
      ...(spec.headers === undefined ? {} : { headers: spec.headers }),
      security: [{ accessToken: [] }],
      // For whoever asks which of their people may call this; the policy decides, not this line.
      'x-action': spec.action,
      'x-roles': POLICY[spec.action],
      response: { ...goodAnswers(spec.answers, spec.otherTypes), ...problemAnswers(refusals) },
    },
    onRequest: async (request) => {
      const actor = await authenticate(request, deps.db, deps.verify)
      if (actor.kind === 'team') {
        if (spec.answerTeam === undefined) throw new AppError('forbidden', { detail: 'A team token may not do that.' })
        return
      }
      await audited(contextOf(request, deps), spec.action, () => authorise(actor, spec.action))
    },
    errorHandler: recordThenRefuse(deps, spec.action),
    handler: async (request, reply) => {
      if (request.actor?.kind === 'team' && spec.answerTeam !== undefined) return sendAnswer(reply, spec.answerTeam(request.actor)) // prettier-ignore
      requirePurposeWord(request)
      const ctx = contextOf(request, deps)
      const bytes = request.body instanceof Uint8Array ? request.body : new Uint8Array()
      const answer = await audited(ctx, spec.action, () => {
        const [params, query] = [parseParams(spec.params, request.params), parseQuery(spec.query, request.query)]
        // A body that nobody reads is refused all the same: it says something, and it would have been ignored.
        if (spec.body === undefined && bytes.length > 0) parseDocument(undefined, bytes)
        return spec.answer(ctx, {
          params,
          query,
          document: () => parseDocument(spec.body, bytes),
          bytes,
          request,
        } as RouteInput<z.output<P>, z.output<Q>, z.output<B>>)
      })
      return sendAnswer(reply, answer)
    },
  })
}

/** What the plumbing refuses between authentication and handler (size, media type) belongs into the log as well. */
export function recordThenRefuse(deps: FaceDeps, attempt: Attempt) {
  // fastify waits for the promise, and hands what it throws to the handler of all problems.
  const handler = async (error: FastifyError | AppError, request: FastifyRequest): Promise<never> => {
    const known = error instanceof AppError ? error : translate(error, request)
    await recordOutcome(request, deps, attempt, known)
    throw known
  }
  return handler as (error: FastifyError, request: FastifyRequest) => void
}

export const operationId = (method: string, url: string): string =>
  `${method.toLowerCase()}${url.replace(/[^A-Za-z0-9]+(\w)/g, (_, c: string) => c.toUpperCase())}`

export function sendAnswer(reply: FastifyReply, answer: Answer): FastifyReply {
  void reply.code(answer.status ?? 200).headers(answer.headers ?? {})
  if (isTextInPieces(answer.body)) return reply.type(answer.type ?? '').send(Readable.from(answer.body, { objectMode: false })) // prettier-ignore
  if (answer.type !== undefined) return reply.type(answer.type).send(answer.body)
  if (typeof answer.body === 'string') return reply.type('application/json; charset=utf-8').serializer(asIs).send(answer.body) // prettier-ignore
  return reply.send(answer.body)
}

const isTextInPieces = (body: unknown): body is AsyncIterable<string> =>
  body !== null && typeof body === 'object' && Symbol.asyncIterator in body

const asIs = (body: unknown): string => String(body)

export function goodAnswers(
  answers: Readonly<Record<number, z.ZodType>>,
  otherTypes: Readonly<Record<string, z.ZodType>> = {},
): Record<string, unknown> {
  const described = Object.entries(answers).map(
    ([status, schema]) => [status, { 'application/json': { schema } }] as const,
  )
  const contents: Record<string, Record<string, { schema: z.ZodType }>> = Object.fromEntries(described)
  for (const [type, schema] of Object.entries(otherTypes)) contents['200'] = { ...contents['200'], [type]: { schema } }
  return Object.fromEntries(
    Object.entries(contents).map(([status, content]) => [
      status,
      { description: status === '201' ? 'Created' : 'The answer', content },
    ]),
  )
}

export const problemAnswers = (statuses: readonly number[]): Record<number, unknown> =>
  Object.fromEntries(
    [...new Set(statuses)].map((status) => [
      status,
      {
        description: PROBLEM_WORDS[status] ?? 'Refused',
        content: { 'application/problem+json': { schema: problemSchema } },
      },
    ]),
  )

const PROBLEM_WORDS: Readonly<Record<number, string>> = {
  400: 'Shape, unit, range or description: every fault at once',
  401: 'No acceptable token',
  403: 'The role may not do that',
  404: 'Nothing here, or nothing of this clinic',
  409: 'Other content under the same id, withdrawn, or a key in flight',
  412: 'Changed since',
  413: 'Too large',
  415: 'Not application/json, or compressed',
  422: 'A reference points at nothing, or a key was used with other content',
  428: 'If-Match is needed',
  503: 'Busy, or the audit log cannot be written',
}
