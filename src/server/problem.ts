/** RFC 9457: every refusal is a problem document made from the one error table. No stack, SQL or path ever leaves. */
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { AppError, ERROR_TABLE } from '../domain/errors.ts'
import { sqlState } from '../tenancy/with-clinic.ts'
import { knownPaths } from './known-paths.ts'

export interface Problem {
  readonly type: string
  readonly title: string
  readonly status: number
  readonly code: string
  readonly detail: string
  readonly requestId: string
  readonly retry: string
  readonly errors?: unknown
  readonly [extra: string]: unknown
}

export function problemOf(error: AppError, requestId: string): Problem {
  const row = ERROR_TABLE[error.code]
  return {
    type: `/problems/${error.code.replaceAll('_', '-')}`,
    title: row.title,
    status: row.status,
    code: error.code,
    detail: error.detail,
    requestId,
    retry: row.retry,
    ...error.extra,
    ...(error.faults.length > 0 ? { errors: error.faults } : {}),
  }
}

export function sendProblem(reply: FastifyReply, error: AppError, requestId: string): FastifyReply {
  if (error.retryAfterSeconds !== undefined) void reply.header('Retry-After', String(error.retryAfterSeconds))
  if (error.code === 'unauthenticated') void reply.header('WWW-Authenticate', 'Bearer')
  return reply
    .code(error.status)
    .header('Content-Type', 'application/problem+json')
    .serializer((body: unknown) => JSON.stringify(body))
    .send(problemOf(error, requestId))
}

export function registerProblems(app: FastifyInstance): void {
  const methodsOf = knownPaths(app)
  app.setErrorHandler((error: FastifyError | AppError, request, reply) => {
    const known = error instanceof AppError ? error : translate(error, request)
    if (known.status >= 500) {
      const cause = known.cause instanceof Error ? known.cause : error
      request.log.error({ code: known.code, sqlState: sqlState(cause), err: cause }, 'request failed')
    } else {
      request.log.info({ code: known.code }, 'request refused')
    }
    return sendProblem(reply, known, request.id)
  })
  app.setNotFoundHandler((request, reply) => {
    const methods = methodsOf(request.url.split('?', 1)[0] ?? '')
    if (methods.length === 0) return sendProblem(reply, new AppError('not_found'), request.id)
    return sendProblem(reply.header('Allow', methods.join(', ')), new AppError('method_not_allowed'), request.id)
  })
}

/** What fastify itself refuses. */
export function translate(error: FastifyError, request: FastifyRequest): AppError {
  switch (error.code) {
    case 'FST_ERR_CTP_BODY_TOO_LARGE':
      return new AppError('too_large', {
        detail: `The body may have up to ${request.routeOptions.bodyLimit} bytes here.`,
        extra: { limitBytes: request.routeOptions.bodyLimit },
      })
    case 'FST_ERR_CTP_INVALID_MEDIA_TYPE':
      return new AppError('unsupported_media_type', { detail: 'Send application/json, not compressed.' })
    case 'FST_ERR_CTP_EMPTY_JSON_BODY':
    case 'FST_ERR_CTP_INVALID_CONTENT_LENGTH':
      return new AppError('malformed_request')
    default:
      if (error.statusCode === 503) return new AppError('busy', { retryAfterSeconds: 5, cause: error })
      if (error.statusCode !== undefined && error.statusCode >= 400 && error.statusCode < 500)
        return new AppError('malformed_request', { cause: error })
      return new AppError('internal', { internal: error.message, cause: error })
  }
}
