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

/** As much of a request as a refusal is noted with. */
export type Origin = Pick<FastifyRequest, 'id' | 'log'> & {
  readonly routeOptions: { readonly url?: string | undefined }
}

export interface Identified {
  readonly actor: Actor
  readonly expiresAt: Date
}

export async function authenticate(request: FastifyRequest, db: Database, verify: TokenVerifier): Promise<Actor> {
  const { actor } = await identify(request.headers.authorization, request, db, verify)
  request.actor = actor
  return actor
}

/** Asked again whenever it matters: the token is verified and the membership read as they are now. */
export async function identify(
  authorization: string | undefined,
  origin: Origin,
  db: Database,
  verify: TokenVerifier,
): Promise<Identified> {
  let reason = 'not_a_member'
  let issuer: string | null = null
  try {
    const token = await verify(authorization)
    issuer = token.issuer
    const actor = await actorOf(db, token)
    if (actor !== null) return { actor, expiresAt: token.expiresAt }
  } catch (error) {
    if (error instanceof IssuerUnavailable) throw new AppError('issuer_unavailable', { retryAfterSeconds: 5, cause: error }) // prettier-ignore
    if (!(error instanceof TokenRefused)) throw new AppError('database_unavailable', { retryAfterSeconds: 2, cause: error }) // prettier-ignore
    reason = error.reason
    issuer = error.issuer
  }
  await noteInSecurityLog(origin, db, reason, issuer)
  throw new AppError('unauthenticated')
}

/** What was refused before anyone knew for whom: to the bounded log of the machine, since it is no clinic's. */
export async function noteInSecurityLog(
  origin: Origin,
  db: Database,
  code: string,
  issuer: string | null = null,
): Promise<void> {
  const route = origin.routeOptions.url ?? null
  await recordSecurityEvent(db, { requestId: origin.id, code, route, issuer }).catch((error: unknown) => {
    origin.log.warn({ err: error }, 'security event not recorded')
  })
}
