/** The fastify instance: limits, raw bodies, logging that names no one, problem documents. Knows no use case. */
import { v7 as uuidv7 } from 'uuid'
import helmet from '@fastify/helmet'
import underPressure from '@fastify/under-pressure'
import Fastify, { type FastifyInstance } from 'fastify'
import { AppError } from '../domain/errors.ts'
import { logOptions } from './logging.ts'
import { registerProblems } from './problem.ts'

/** 64 kB everywhere; the push route names its own limit. */
export const SMALL_BODY_BYTES = 64 * 1024

export interface HttpOptions {
  readonly logLevel: string
  /** Tests read every log byte. */
  readonly logStream?: NodeJS.WritableStream
}

export async function makeHttp(options: HttpOptions): Promise<FastifyInstance> {
  const app = Fastify({
    bodyLimit: SMALL_BODY_BYTES,
    requestTimeout: 30_000,
    connectionTimeout: 35_000,
    keepAliveTimeout: 72_000,
    maxParamLength: 200,
    genReqId: () => uuidv7(),
    disableRequestLogging: true,
    trustProxy: false,
    exposeHeadRoutes: false,
    return503OnClosing: true,
    logger: logOptions(options.logLevel, options.logStream),
    // A response is what the use case returned: nothing is stripped in silence, tests compare it with its schema.
    serializerOpts: { mode: 'standalone' },
  })
  app.server.headersTimeout = 15_000
  app.setValidatorCompiler(() => () => true)
  app.setSerializerCompiler(() => (data) => JSON.stringify(data))

  registerProblems(app)
  acceptRawJsonOnly(app)

  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: { defaultSrc: ["'none'"], frameAncestors: ["'none'"] } },
  })
  await app.register(underPressure, { maxEventLoopDelay: 1_000, sampleInterval: 500, retryAfter: 5 })

  app.addHook('onRequest', async (request, reply) => {
    void reply.header('Cache-Control', 'no-store').header('X-Request-Id', request.id)
    refuseDoubledHeaders(request.raw.rawHeaders)
    if (request.headers['content-encoding'] !== undefined) throw new AppError('unsupported_media_type')
  })
  app.addHook('onResponse', async (request, reply) => {
    request.log.info(
      { method: request.method, route: request.routeOptions.url, status: reply.statusCode, ms: reply.elapsedTime },
      'answered',
    )
  })
  closeIdleSocketsOnShutdown(app)
  return app
}

/** Bodies stay bytes until the handler reads them strictly: no parser decides by content type what is validated. */
function acceptRawJsonOnly(app: FastifyInstance): void {
  app.removeAllContentTypeParsers()
  app.addContentTypeParser('application/json', { parseAs: 'buffer' }, (_request, body, done) => done(null, body))
}

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

/** fastify's close() waits for idle keep-alive sockets; telling each client to close ends that in one round trip. */
function closeIdleSocketsOnShutdown(app: FastifyInstance): void {
  let closing = false
  app.addHook('preClose', async () => {
    closing = true
    app.server.closeIdleConnections()
  })
  app.addHook('onSend', async (_request, reply) => {
    if (closing) void reply.header('Connection', 'close')
  })
}
