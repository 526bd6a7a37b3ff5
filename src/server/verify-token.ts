/**
 * Access tokens: JWTs of configured issuers, asymmetric algorithms only, typ at+jwt (RFC 9068), verified with jose.
 * Every refusal looks the same from outside; the code says why in the security log only.
 */
import { readFile } from 'node:fs/promises'
import {
  createLocalJWKSet,
  createRemoteJWKSet,
  decodeJwt,
  decodeProtectedHeader,
  errors,
  jwtVerify,
  type JSONWebKeySet,
  type JWTVerifyGetKey,
} from 'jose'
import { validate as isUuid } from 'uuid'
import type { IssuerConfig } from '../config.ts'
import type { VerifiedToken } from '../tenancy/authenticate.ts'

export class TokenRefused extends Error {
  readonly reason: string
  readonly issuer: string | null
  constructor(reason: string, issuer: string | null = null) {
    super(reason)
    this.reason = reason
    this.issuer = issuer
  }
}

/** The keys of an issuer can't be had: about the token nothing is known, least of all that it is wrong. */
export class IssuerUnavailable extends Error {
  constructor(issuer: string, cause: unknown) {
    super(`the keys of ${issuer} cannot be had`, { cause })
  }
}

export type TokenVerifier = (authorization: string | undefined) => Promise<VerifiedToken>

const ALGORITHMS = ['ES256', 'EdDSA', 'RS256', 'PS256']
/** Header members that point at a key: the key comes from the configured issuer and from nowhere else. */
const KEY_POINTERS = ['jku', 'jwk', 'x5u', 'x5c', 'crit']
const MAX_LIFETIME_S = 24 * 60 * 60
const CLOCK_TOLERANCE_S = 5

export function makeTokenVerifier(issuers: readonly IssuerConfig[], audience: string): TokenVerifier {
  const keysOf = new Map(issuers.map((issuer) => [issuer.issuer, keySource(issuer)]))

  return async (authorization) => {
    const token = bearerOf(authorization)
    const iss = untrustedIssuer(token)
    const keys = keysOf.get(iss)
    if (keys === undefined) throw new TokenRefused('unknown_issuer')
    try {
      const { payload } = await jwtVerify(token, keys, {
        issuer: iss,
        audience,
        algorithms: ALGORITHMS,
        typ: 'at+jwt',
        clockTolerance: CLOCK_TOLERANCE_S,
        requiredClaims: ['iss', 'sub', 'aud', 'exp'],
      })
      const { sub, exp, clinic, team } = payload
      if (typeof sub !== 'string' || sub === '' || typeof exp !== 'number') throw new TokenRefused('claims', iss)
      if (exp - Date.now() / 1000 > MAX_LIFETIME_S + CLOCK_TOLERANCE_S) throw new TokenRefused('too_long_lived', iss)
      if ((clinic === undefined) === (team === undefined)) throw new TokenRefused('clinic_or_team', iss)
      const place = clinic ?? team
      if (typeof place !== 'string' || !isUuid(place)) throw new TokenRefused('clinic_or_team', iss)
      const client = payload['client_id'] ?? payload['azp']
      return {
        issuer: iss,
        sub,
        clinicId: clinic === undefined ? null : place.toLowerCase(),
        teamId: team === undefined ? null : place.toLowerCase(),
        client: typeof client === 'string' ? client : null,
        expiresAt: new Date(exp * 1000),
      }
    } catch (error) {
      if (error instanceof TokenRefused) throw error
      if (error instanceof errors.JOSEError) throw new TokenRefused(error.code, iss)
      throw error
    }
  }
}

function bearerOf(authorization: string | undefined): string {
  const match = /^Bearer ([A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+)$/.exec(authorization ?? '')
  const token = match?.[1]
  if (token === undefined || token.length > 8_192) throw new TokenRefused('no_bearer_token')
  // The last character of a segment may carry stray bits that decoders ignore: one token, one spelling.
  const canonical = token.split('.').every((part) => Buffer.from(part, 'base64url').toString('base64url') === part)
  if (!canonical) throw new TokenRefused('not_canonical')
  return token
}

function untrustedIssuer(token: string): string {
  try {
    const header = decodeProtectedHeader(token)
    if (KEY_POINTERS.some((name) => name in header)) throw new TokenRefused('key_pointer')
    if (typeof header.alg !== 'string' || !ALGORITHMS.includes(header.alg)) throw new TokenRefused('algorithm')
    const { iss } = decodeJwt(token)
    if (typeof iss !== 'string') throw new TokenRefused('no_issuer')
    return iss
  } catch (error) {
    throw error instanceof TokenRefused ? error : new TokenRefused('malformed')
  }
}

function keySource(issuer: IssuerConfig): JWTVerifyGetKey {
  const keys = keysOfSource(issuer)
  return async (header, token) => {
    try {
      return await keys(header, token)
    } catch (error) {
      // These say that the issuer has no such key; anything else, that it could not be asked.
      if (ABOUT_THE_TOKEN.some((kind) => error instanceof kind)) throw error
      throw new IssuerUnavailable(issuer.issuer, error)
    }
  }
}

const ABOUT_THE_TOKEN = [errors.JWKSNoMatchingKey, errors.JWKSMultipleMatchingKeys, errors.JOSENotSupported]

function keysOfSource(issuer: IssuerConfig): JWTVerifyGetKey {
  if (issuer.jwksUrl !== undefined) {
    return createRemoteJWKSet(new URL(issuer.jwksUrl), { cooldownDuration: 30_000, timeoutDuration: 3_000 })
  }
  if (issuer.jwksFile !== undefined) return keysFromFile(issuer.jwksFile)
  throw new Error(`The issuer ${issuer.issuer} has neither jwksUrl nor jwksFile.`)
}

/** Read again when a key is not found, at most every 10 s: keys are rotated by replacing the file. */
function keysFromFile(path: string): JWTVerifyGetKey {
  let keys: JWTVerifyGetKey | undefined
  let readAt = 0
  const load = async (): Promise<JWTVerifyGetKey> => {
    readAt = Date.now()
    keys = createLocalJWKSet(JSON.parse(await readFile(path, 'utf8')) as JSONWebKeySet)
    return keys
  }
  return async (header, token) => {
    const current = keys ?? (await load())
    try {
      return await current(header, token)
    } catch (error) {
      if (!(error instanceof errors.JWKSNoMatchingKey) || Date.now() - readAt < 10_000) throw error
      return (await load())(header, token)
    }
  }
}
