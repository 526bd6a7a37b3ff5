/**
 * Subscriptions at /graphql over WebSocket, in the protocol graphql-transport-ws. mercurius has a server of its own for it,
 * which refuses without the codes of the protocol, waits for ever for connection_init, and validates nothing.
 * No cookie opens a socket, so a page of another origin that connects to it is nobody.
 */
import type { IncomingHttpHeaders } from 'node:http'
import type { FastifyInstance } from 'fastify'
import { GraphQLError, OperationTypeNode, parse, specifiedRules, validate, type ExecutionArgs, type FormattedExecutionResult, type GraphQLFormattedError, type GraphQLSchema, type ValidationRule } from 'graphql' // prettier-ignore
import { CloseCode, handleProtocols, makeServer, type SubscribePayload } from 'graphql-ws'
import { v7 as uuidv7 } from 'uuid'
import { WebSocketServer, type RawData, type WebSocket } from 'ws'
import { AppError } from '../../domain/errors.ts'
import { parseStrictJson } from '../../domain/strict-json.ts'
import { noteInSecurityLog, type Origin } from '../../server/authenticate.ts'
import type { FaceDeps } from '../context.ts'
import { graphqlContext } from './context.ts'
import { tellErrors } from './errors.ts'
import { LIMITS, refuseCostly } from './limits.ts'
import { refuseOddQuery } from './odd-query.ts'
import { operationOf } from './operation.ts'
import { Pace, TURNS_OF_SOCKETS } from './pace.ts'
import { persistedQuery } from './persisted-queries.ts'
import { recordRefused } from './record-refusal.ts'
import { SOCKET_LIMITS, Subscriber, type SocketLimits } from './subscriber.ts'
import { tellEach, Told } from './tell-each.ts'
import { Turns } from './turns.ts'

export interface SocketOptions {
  readonly path: string
  readonly schema: GraphQLSchema
  readonly rules: readonly ValidationRule[]
  /** Operations by their key. Where there are any, no others are run. */
  readonly persisted: Readonly<Record<string, string>> | null
  readonly limits: Partial<SocketLimits>
}

/** What a client has to say goodbye in before its connection is cut. */
const GOODBYE_MS = 500

export function registerSocket(app: FastifyInstance, deps: FaceDeps, options: SocketOptions): void {
  const limits = { ...SOCKET_LIMITS, ...options.limits }
  const sockets = new WebSocketServer({
    noServer: true,
    autoPong: false,
    maxPayload: limits.messageBytes,
    handleProtocols,
  })
  const open = new Map<string, number>()
  const ofAll = new Turns(TURNS_OF_SOCKETS)
  let closing = false

  app.upgrades.set(options.path, (request, connection, head) => {
    // While it closes the server still listens, and would wait for a socket that came after the goodbyes.
    if (closing || sockets.clients.size >= limits.sockets) throw new AppError('busy', { retryAfterSeconds: 5 })
    sockets.handleUpgrade(request, connection, head, (socket) => serve(socket, request.headers))
  })
  app.addHook('preClose', () => {
    closing = true
    return goodbye(sockets)
  })

  function serve(socket: WebSocket, headers: IncomingHttpHeaders): void {
    const id = uuidv7()
    const since = Date.now()
    const origin = { id, log: app.log.child({ reqId: id }), routeOptions: { url: options.path } }
    const close = (code: number, reason: string) => socket.close(code, reason)
    const pace = new Pace(socket, { ofAll, mostWaiting: limits.subscriptionsOfSocket })
    const subscriber = new Subscriber(origin, headers, { deps, limits, open, close, inTurn: pace.inTurn })
    const closed = protocolFor(subscriber, pace, deps, options, limits).opened(
      {
        protocol: socket.protocol,
        send: (text) => pace.write((done) => socket.send(text, done)),
        close: (code = CloseCode.InternalServerError, reason = '') => close(code, reason),
        onMessage: (hear) => socket.on('message', (data, isBinary) => void receive(socket, data, isBinary, hear, origin.log)), // prettier-ignore
      },
      undefined,
    )
    socket.on('ping', (data) => void pace.write((done) => socket.pong(data, false, done)))
    const ended = keepAlive(socket, limits.pingMs)
    // What the protocol of sockets itself forbids has closed it already, with a code.
    socket.on('error', (error) => origin.log.info({ code: (error as { code?: string }).code }, 'socket broken'))
    socket.once('close', (code, reason) => {
      ended()
      if (!subscriber.known && code in REFUSALS) void noteInSecurityLog(origin, deps.db, REFUSALS[code] ?? '')
      subscriber.end()
      void closed(code, reason.toString())
      origin.log.info({ method: 'GET', route: options.path, status: code, ms: Date.now() - since }, 'socket closed')
    })
  }
}

/** Closed before anyone knew for whom, and not noted yet; the other codes come after a look at a token. */
const REFUSALS: Readonly<Record<number, string>> = {
  1002: 'malformed_request',
  1007: 'malformed_request',
  1009: 'too_large',
  [CloseCode.BadRequest]: 'malformed_request',
  [CloseCode.Unauthorized]: 'unauthenticated',
  [CloseCode.SubprotocolNotAcceptable]: 'unsupported_media_type',
  [CloseCode.ConnectionInitialisationTimeout]: 'request_too_slow',
}

type Hear = (text: string) => Promise<void>

async function receive(socket: WebSocket, data: RawData, isBinary: boolean, hear: Hear, log: FastifyInstance['log']) {
  // What still arrives on a socket that is being closed is answered to nobody.
  if (socket.readyState !== socket.OPEN) return
  if (isBinary || !parseStrictJson(data as Buffer).ok) {
    return socket.close(CloseCode.BadRequest, 'Invalid message received')
  }
  try {
    await hear((data as Buffer).toString('utf8'))
  } catch (error) {
    log.error({ code: 'internal', err: error }, 'request failed')
    socket.close(CloseCode.InternalServerError, 'Internal server error')
  }
}

function keepAlive(socket: WebSocket, everyMs: number): () => void {
  let answered = true
  socket.on('pong', () => void (answered = true))
  const timer = setInterval(() => {
    if (!answered) return socket.terminate()
    answered = false
    socket.ping()
  }, everyMs)
  return () => clearInterval(timer)
}

async function goodbye(sockets: WebSocketServer): Promise<void> {
  const gone = [...sockets.clients].map((socket) => new Promise((resolve) => socket.once('close', resolve)))
  for (const socket of sockets.clients) socket.close(1001, 'Going away')
  const late = setTimeout(() => sockets.clients.forEach((socket) => socket.terminate()), GOODBYE_MS)
  await Promise.all(gone)
  clearTimeout(late)
  sockets.close()
}

function protocolFor(subscriber: Subscriber, pace: Pace, deps: FaceDeps, options: SocketOptions, limits: SocketLimits) {
  const { log } = subscriber.origin
  return makeServer<Record<string, unknown> | undefined>({
    connectionInitWaitTimeout: limits.initMs,
    onConnect: ({ connectionParams }) => subscriber.begin(connectionParams ?? {}),
    onSubscribe: async ({ subscriptions }, _id, payload) => {
      // Counted before anything is waited for: others come in meanwhile.
      const isCrowded = Object.keys(subscriptions).length > limits.subscriptionsOfSocket
      try {
        const asker = await subscriber.asker()
        const contextValue = graphqlContext(asker, deps)
        try {
          if (isCrowded) throw tooMany(limits)
          return { ...readOperation(payload, options), contextValue }
        } catch (error) {
          const errors = errorsOf(error)
          const request = { ...subscriber.origin, ...asker }
          await pace.inTurn(() => recordRefused({ errors }, request, deps))
          return errorsOf(new Told(tellErrors({ errors }, request).response))
        }
      } catch (error) {
        return errorsOf(error)
      }
    },
    subscribe: (args) => {
      const { origin } = subscriber
      return tellEach(args, { deps, origin, askerNow: () => subscriber.asker(), inTurn: pace.inTurn })
    },
    // Both are in the words for clients when they come here; the library would write its own.
    onNext: (_ctx, _id, _payload, _args, result) => result as FormattedExecutionResult<Record<string, unknown>>,
    onError: (_ctx, _id, _payload, errors) => wordsOf(errors, log),
  })
}

/** In the form of GraphQL, one or many. */
function errorsOf(error: unknown): readonly GraphQLError[] {
  if (error instanceof GraphQLError) return [error]
  if (error instanceof AggregateError) return error.errors as GraphQLError[]
  const original = error as Error
  return [new GraphQLError(original.message, { originalError: original })]
}

function wordsOf(errors: readonly GraphQLError[], log: Origin['log']): readonly GraphQLFormattedError[] {
  const told = errors.map(({ originalError }) => originalError).find((original) => original instanceof Told)
  return (told ?? new Told(tellErrors({ errors }, { id: uuidv7(), log }).response)).errors
}

/** The same limits as over HTTP, before anything runs. */
function readOperation(payload: SubscribePayload, { schema, rules, persisted }: SocketOptions): ExecutionArgs {
  const query = persisted === null ? payload.query : persistedQuery(persisted, payload)
  refuseOddQuery(query)
  const document = parse(query, { maxTokens: LIMITS.tokens })
  const errors = validate(schema, document, [...specifiedRules, ...rules])
  if (errors.length > 0) throw new AggregateError(errors)
  const operationName = payload.operationName ?? undefined
  const operation = operationOf(document, operationName)
  if (operation.operation !== OperationTypeNode.SUBSCRIPTION) {
    throw new AppError('invalid_graphql', { detail: 'Here one subscription is asked for; queries and mutations go over HTTP.' }) // prettier-ignore
  }
  const variableValues = payload.variables ?? {}
  refuseCostly(schema, document, operation, variableValues)
  return { schema, document, variableValues, ...(operationName === undefined ? {} : { operationName }) }
}

const tooMany = ({ subscriptionsOfSocket }: SocketLimits) =>
  new AppError('too_many_requests', { detail: `A connection holds up to ${subscriptionsOfSocket} subscriptions.` })
