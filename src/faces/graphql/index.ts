/** The GraphQL face at /graphql: authentication, strict bodies, limits, and mercurius over the one schema. */
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { GraphQLError, OperationTypeNode, parse, type DocumentNode, type ExecutionResult } from 'graphql'
import { mercurius } from 'mercurius'
import { z } from 'zod'
import { AppError, documentError } from '../../domain/errors.ts'
import { fail, toFaults } from '../../domain/faults.ts'
import { parseStrictJson } from '../../domain/strict-json.ts'
import { authenticate } from '../../server/authenticate.ts'
import { sendProblem, translate } from '../../server/problem.ts'
import type { FaceDeps } from '../context.ts'
import { parseQuery } from '../parse.ts'
import { graphqlContext } from './context.ts'
import { tellErrors } from './errors.ts'
import { LIMITS, refuseCostly, validationRules } from './limits.ts'
import { refuseOddQuery } from './odd-query.ts'
import { operationOf } from './operation.ts'
import { persistedQueries } from './persisted-queries.ts'
import { recordRefused } from './record-refusal.ts'
import { makeSchema } from './schema.ts'
import { registerSocket } from './socket.ts'
import type { SocketLimits } from './subscriber.ts'

export interface GraphqlOptions {
  /** Whether the schema may be asked for; it is committed, so that production need not answer. */
  readonly introspection: boolean
  /** Operations by their key. Where there are any, no others are run. */
  readonly persisted: Readonly<Record<string, string>> | null
  /** A page to ask and read in, where there is one: of a machine for development. */
  readonly explorer: (() => Promise<ExplorerPage>) | null
  /** Tests do not wait 10 s. */
  readonly sockets?: Partial<SocketLimits>
}

export interface ExplorerPage {
  readonly html: string
  /** Content-Security-Policy: what the page may run and reach. */
  readonly policy: string
}

/** Sessions with reported values; recordings go over REST. */
const BODY_BYTES = 1024 * 1024

const bodyShape = z.strictObject({
  query: z.string().min(1).optional(),
  operationName: z.string().nullable().optional(),
  variables: z.record(z.string(), z.unknown()).nullable().optional(),
  extensions: z.record(z.string(), z.unknown()).nullable().optional(),
})

interface Asked {
  readonly query?: string
  readonly operationName?: string | null
}

/** As strict as a body, though mercurius reads it once more. */
const jsonObject = z
  .string()
  .transform((text, context) => {
    const json = parseStrictJson(Buffer.from(text))
    if (json.ok) return json.value
    for (const { code, message } of json.faults) fail(context, [], code, message)
    return z.NEVER
  })
  .pipe(z.record(z.string(), z.unknown()))

const addressShape = z.strictObject({
  query: z.string().min(1).optional(),
  operationName: z.string().optional(),
  variables: jsonObject.optional(),
  extensions: jsonObject.optional(),
})

/** Where operations are persisted a request names one; elsewhere it brings its own. */
const shapesFor = ({ persisted }: GraphqlOptions): { readonly body: z.ZodObject; readonly address: z.ZodObject } =>
  persisted === null
    ? { body: bodyShape.required({ query: true }), address: addressShape.required({ query: true }) }
    : { body: bodyShape, address: addressShape }

export async function registerGraphql(app: FastifyInstance, deps: FaceDeps, options: GraphqlOptions): Promise<void> {
  const schema = makeSchema()
  const rules = validationRules(options)
  const shapes = shapesFor(options)
  /** As they were thrown: when an operation is over, only words for the client are left of them. */
  const thrown = new WeakMap<FastifyRequest, ExecutionResult>()
  if (options.explorer !== null) serveExplorer(app, options.explorer)
  registerSocket(app, deps, { path: '/graphql', schema, rules, persisted: options.persisted, limits: options.sockets ?? {} }) // prettier-ignore
  await app.register(async (scope) => {
    readStrictly(scope, shapes.body)
    scope.addHook('onRequest', async (request) => {
      await authenticate(request, deps.db, deps.verify)
    })
    scope.addHook('preHandler', async (request) => {
      refuseOddSource(request, shapes.address)
    })
    await scope.register(mercurius, {
      schema,
      path: '/graphql',
      graphiql: false,
      allowBatchedQueries: false,
      context: (request) => graphqlContext(request, deps) as never,
      validationRules: rules,
      graphql: { parseOptions: { maxTokens: LIMITS.tokens } },
      additionalRouteOptions: { bodyLimit: BODY_BYTES, schema: { hide: true } },
      errorFormatter: (execution, { reply }) => {
        thrown.set(reply.request, { ...execution })
        return told(execution, reply)
      },
      errorHandler: (error, request, reply) => refuse(error, request, reply, deps),
      ...(options.persisted === null ? {} : { persistedQueryProvider: persistedQueries(options.persisted) }),
    })
    // Before mercurius looks whether it is a mutation, and takes for granted that it is there.
    scope.graphql.addHook('preParsing', async (_schema, source, { reply: { request } }) => {
      const document = request.method === 'GET' ? parsedOrNull(source) : null
      if (document !== null) operationOf(document, nameIn(request))
    })
    scope.graphql.addHook('preExecution', async (_schema, document, { reply: { request } }, variables) => {
      const operation = operationOf(document, nameIn(request))
      if (operation.operation === OperationTypeNode.SUBSCRIPTION) {
        throw new AppError('invalid_graphql', {
          detail: 'A subscription is asked for over a WebSocket at this address.',
        })
      }
      refuseCostly(schema, document, operation, variables ?? {})
    })
    scope.graphql.addHook('onResolution', (_execution, { reply: { request } }) =>
      recordRefused(thrown.get(request) ?? {}, request, deps),
    )
  })
}

const nameIn = ({ method, body, query }: FastifyRequest): string | null | undefined =>
  (method === 'GET' ? (query as Asked) : (body as Asked)).operationName

/** What can't be parsed is refused with what is wrong in it, a little later. */
function parsedOrNull(source: string): DocumentNode | null {
  try {
    return parse(source, { maxTokens: LIMITS.tokens })
  } catch {
    return null
  }
}

/** The bytes of a body as one GraphQL request, with the same strictness as any document. */
function readStrictly(scope: FastifyInstance, shape: z.ZodObject): void {
  scope.removeContentTypeParser('application/json')
  scope.addContentTypeParser('application/json', { parseAs: 'buffer' }, (_request, bytes, done) => {
    const json = parseStrictJson(bytes as Buffer)
    if (!json.ok) return done(documentError(json.faults))
    const parsed = shape.safeParse(json.value)
    if (!parsed.success) return done(documentError(toFaults(parsed.error, json.value)))
    done(null, parsed.data)
  })
}

/** What the parser of the query would take, and no client writes. */
function refuseOddSource(request: FastifyRequest, address: z.ZodObject): void {
  if (request.method === 'GET') parseQuery(address, request.query)
  else if (typeof request.body !== 'object' || request.headers['content-type']?.startsWith('application/json') !== true) throw new AppError('unsupported_media_type') // prettier-ignore
  const { query } = (request.method === 'GET' ? request.query : request.body) as Asked
  if (query !== undefined) refuseOddQuery(query)
}

/** Open to everyone who reaches it: without a token it shows nothing but itself. */
function serveExplorer(app: FastifyInstance, page: () => Promise<ExplorerPage>): void {
  app.get('/graphql/explorer', { schema: { hide: true } }, async (_request, reply) => {
    const { html, policy } = await page()
    return reply
      .header('Content-Security-Policy', policy)
      .type('text/html; charset=utf-8')
      .serializer(String)
      .send(html)
  })
}

/** Refused as GraphQL refuses, since a client of GraphQL wrote it. */
const OF_THE_OPERATION: ReadonlySet<string> = new Set(['query_too_costly', 'query_not_persisted', 'invalid_graphql'])

/** Before anything was executed: a problem document for what HTTP refuses, GraphQL errors for what GraphQL does. */
async function refuse(error: FastifyError, request: FastifyRequest, reply: FastifyReply, deps: FaceDeps) {
  const ofGraphql = Array.isArray((error as { errors?: unknown }).errors) && error.code !== 'MER_ERR_METHOD_NOT_ALLOWED'
  const known = error instanceof AppError ? error : fromMercurius(error, request)
  const errors = [new GraphQLError(ofGraphql ? error.message : known.detail, { originalError: ofGraphql ? error : known })] // prettier-ignore
  await recordRefused({ errors }, request, deps)
  if (known.code === 'method_not_allowed') void reply.header('Allow', 'POST')
  if (!ofGraphql && !OF_THE_OPERATION.has(known.code)) return sendProblem(reply, known, request.id)
  const { statusCode, response } = told({ errors }, reply)
  return reply.code(statusCode).send({ errors: response.errors })
}

function told(execution: ExecutionResult, reply: FastifyReply) {
  const { retryAfterSeconds, ...answer } = tellErrors(execution, reply.request)
  if (retryAfterSeconds !== undefined) void reply.header('Retry-After', String(retryAfterSeconds))
  return answer
}

function fromMercurius(error: FastifyError, request: FastifyRequest): AppError {
  if (error.code === 'MER_ERR_METHOD_NOT_ALLOWED') return new AppError('method_not_allowed', { detail: 'A mutation is sent with POST.' }) // prettier-ignore
  return error.code?.startsWith('MER_ERR_GQL_PERSISTED') ? new AppError('query_not_persisted') : translate(error, request) // prettier-ignore
}
