/** From the Authorization header to an actor on the request, before the body is read. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { AppError } from '../domain/errors.ts'
import { actorOf, recordSecurityEvent } from '../tenancy/authenticate.ts'
import type { Actor } from '../tenancy/actor.ts'
import type { Database } from '../tenancy/database.ts'
import { IssuerUnavailable, TokenRefused, type TokenVerifier } from './verify-token.ts'

declare module 'fastify' {
  interface FastifyRequest {
    actor: Actor | null
  }
}

export function registerAuthentication(app: FastifyInstance): void {
  app.decorateRequest('actor', null)
}

export async function authenticate(request: FastifyRequest, db: Database, verify: TokenVerifier): Promise<Actor> {
  let reason = 'not_a_member'
  let issuer: string | null = null
  try {
    const token = await verify(request.headers.authorization)
    issuer = token.issuer
    const actor = await actorOf(db, token)
    if (actor !== null) {
      request.actor = actor
      return actor
    }
  } catch (error) {
    if (error instanceof IssuerUnavailable) throw new AppError('issuer_unavailable', { retryAfterSeconds: 5, cause: error }) // prettier-ignore
    if (!(error instanceof TokenRefused)) throw new AppError('database_unavailable', { retryAfterSeconds: 2, cause: error }) // prettier-ignore
    reason = error.reason
    issuer = error.issuer
  }
  await noteInSecurityLog(request, db, reason, issuer)
  throw new AppError('unauthenticated')
}

/** What was refused before anyone knew for whom: to the bounded log of the machine, since it is no clinic's. */
export async function noteInSecurityLog(
  request: FastifyRequest,
  db: Database,
  code: string,
  issuer: string | null = null,
): Promise<void> {
  const route = request.routeOptions.url ?? null
  await recordSecurityEvent(db, { requestId: request.id, code, route, issuer }).catch((error: unknown) => {
    request.log.warn({ err: error }, 'security event not recorded')
  })
}
