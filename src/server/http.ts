/** The fastify instance: limits, raw bodies, logging that names no one, problem documents. Knows no use case. */
import { v7 as uuidv7 } from 'uuid'
import helmet from '@fastify/helmet'
import underPressure from '@fastify/under-pressure'
import Fastify, { LogController, type FastifyInstance } from 'fastify'
import { AppError } from '../domain/errors.ts'
import { answerBrokenRequest, answerOnSocket } from './broken-request.ts'
import { logOptions } from './logging.ts'
import { registerProblems, translate, sendProblem } from './problem.ts'
import { upgradeAt, type Upgrades } from './upgrades.ts'

/** 64 kB everywhere; the push route names its own limit. */
export const SMALL_BODY_BYTES = 64 * 1024

/** Node looks for slow clients every `checkEveryMs`: headers are cut after at most 15 s, a whole request after 30 s. */
export const SLOW_CLIENT_LIMITS = { headersMs: 13_000, requestMs: 28_000, checkEveryMs: 2_000 }

export interface HttpOptions {
  readonly logLevel: string
  /** Tests read every log byte. */
  readonly logStream?: NodeJS.WritableStream
  /** Tests do not wait 15 s. */
  readonly slowClientLimits?: typeof SLOW_CLIENT_LIMITS
  /** Requests are refused as busy while the event loop lags more than this, or gave no sign at all; 0: never. */
  readonly maxEventLoopDelayMs?: number
}

export async function makeHttp(options: HttpOptions): Promise<FastifyInstance> {
  const limits = options.slowClientLimits ?? SLOW_CLIENT_LIMITS
  const upgrades: Upgrades = new Map()
  const app = Fastify({
    bodyLimit: SMALL_BODY_BYTES,
    http: {
      headersTimeout: limits.headersMs,
      connectionsCheckingInterval: limits.checkEveryMs,
      shouldUpgradeCallback: (request) => upgradeAt(upgrades, request) !== undefined,
    },
    requestTimeout: limits.requestMs,
    connectionTimeout: 35_000,
    keepAliveTimeout: 72_000,
    routerOptions: { maxParamLength: 200 },
    genReqId: () => uuidv7(),
    logController: new LogController({ disableRequestLogging: true }),
    trustProxy: false,
    exposeHeadRoutes: false,
    // What still arrives on an open connection while we close is answered, and its connection ended (below).
    return503OnClosing: false,
    logger: logOptions(options.logLevel, options.logStream),
    frameworkErrors: (error, request, reply) => void sendProblem(reply, translate(error, request), request.id),
    clientErrorHandler: answerBrokenRequest,
  })
  // Bodies are read by our own strict parser (faces/rest/route.ts), answers leave as the use case returned them:
  // nothing is stripped in silence. Tests hold every answer against its published schema.
  app.setValidatorCompiler(() => () => true)
  app.setSerializerCompiler(() => (data) => JSON.stringify(data))

  registerProblems(app)
  acceptRawJsonOnly(app)

  // First of all hooks, so that a refusal of any later one carries these headers too.
  app.addHook('onRequest', async (request, reply) => {
    void reply.header('Cache-Control', 'no-store').header('X-Request-Id', request.id)
    refuseDoubledHeaders(request.raw.rawHeaders)
    if (request.headers['content-encoding'] !== undefined) throw new AppError('unsupported_media_type')
  })
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: { defaultSrc: ["'none'"], frameAncestors: ["'none'"] } },
  })
  // Sampled no more often than the longest lag allowed: two pauses of 600 ms in a row leave a sample of 500 ms without a
  // single measurement, which counts as no sign of life and was answered with 503 though nothing had lagged that long.
  await app.register(underPressure, { maxEventLoopDelay: options.maxEventLoopDelayMs ?? 1_000, sampleInterval: 1_000 })

  app.addHook('onResponse', async (request, reply) => {
    request.log.info(
      { method: request.method, route: request.routeOptions.url, status: reply.statusCode, ms: reply.elapsedTime },
      'answered',
    )
  })
  endConnectionsOnShutdown(app)
  app.decorate('upgrades', upgrades)
  takeUpgrades(app)
  return app
}

/** What becomes a WebSocket leaves the way of requests, so what is refused to all of them is refused to it here. */
function takeUpgrades(app: FastifyInstance): void {
  app.server.on('upgrade', (request, socket, head) => {
    socket.on('error', () => socket.destroy())
    try {
      refuseDoubledHeaders(request.rawHeaders)
      const upgrade = upgradeAt(app.upgrades, request)
      if (upgrade === undefined) throw new AppError('malformed_request')
      if (app.isUnderPressure()) throw new AppError('busy', { retryAfterSeconds: 5 })
      upgrade(request, socket, head)
    } catch (error) {
      answerOnSocket(error instanceof AppError ? error : new AppError('internal', { cause: error }), socket)
    }
  })
}

/** Bodies stay bytes until the handler reads them strictly: no parser decides by content type what is validated. */
function acceptRawJsonOnly(app: FastifyInstance): void {
  app.removeAllContentTypeParsers()
  app.addContentTypeParser('application/json', { parseAs: 'buffer' }, (request, body, done) => {
    // fastify reads this header leniently (odd spaces, any charset); a body is UTF-8 and says so or nothing.
    if (JSON_TYPE.test(request.headers['content-type'] ?? '')) done(null, body)
    else done(new AppError('unsupported_media_type'))
  })
}

const JSON_TYPE = /^application\/json *(; *charset *= *"?utf-8"? *)?$/i

function refuseDoubledHeaders(raw: readonly string[]): void {
  const once = new Set(['authorization', 'host', 'idempotency-key', 'if-match', 'content-type', 'purpose'])
  const seen = new Set<string>()
  for (let i = 0; i < raw.length; i += 2) {
    const name = raw[i]?.toLowerCase() ?? ''
    if (!once.has(name)) continue
    if (seen.has(name)) throw new AppError('malformed_request', { detail: `The header ${name} is sent twice.` })
    seen.add(name)
  }
}

/** close() waits for connections that are kept alive; each answer given while closing tells its client to let go. */
function endConnectionsOnShutdown(app: FastifyInstance): void {
  let closing = false
  app.addHook('preClose', async () => {
    closing = true
    app.server.closeIdleConnections()
  })
  app.addHook('onSend', async (_request, reply) => {
    if (closing) void reply.header('Connection', 'close')
  })
}
