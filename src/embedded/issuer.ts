/**
 * A token issuer of our own for a machine that has none: demo, development and tests. Refused in production, where an
 * identity provider of the operator signs. Its private key lies in the data directory, readable by its owner alone.
 */
import { randomUUID } from 'node:crypto'
import { mkdir, readFile, rename, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { calculateJwkThumbprint, exportJWK, generateKeyPair, importJWK, SignJWT, type CryptoKey, type JWK } from 'jose'
import type { Config, IssuerConfig } from '../config.ts'
import { keptSecret } from './kept-secret.ts'

export const EMBEDDED_ISSUER = 'urn:limb-ledger:embedded-issuer'
export const LONGEST_LIFETIME_S = 12 * 60 * 60
const ALGORITHM = 'ES256'

export class EmbeddedIssuerError extends Error {}

export interface TokenRequest {
  readonly sub: string
  /** Exactly one of the two. */
  readonly clinic?: string | undefined
  readonly team?: string | undefined
  readonly client?: string | undefined
  readonly lifetimeS?: number | undefined
}

export interface EmbeddedIssuer {
  readonly issuer: string
  /** For ISSUERS of the service; the file is read again when a key is not found in it. */
  readonly config: IssuerConfig
  readonly publicKeys: () => Promise<string>
  readonly mint: (request: TokenRequest) => Promise<string>
}

export interface EmbeddedIssuerOptions {
  readonly directory: string
  readonly audience: string
  readonly environment: Config['NODE_ENV']
}

export async function openEmbeddedIssuer(options: EmbeddedIssuerOptions): Promise<EmbeddedIssuer> {
  if (options.environment === 'production')
    throw new EmbeddedIssuerError('The embedded issuer does not run in production: name your own in ISSUERS.')
  await mkdir(options.directory, { recursive: true, mode: 0o700 })
  const privateJwk = await keptKey(join(options.directory, 'issuer-key.json'))
  const jwksFile = join(options.directory, 'issuer-jwks.json')
  await writeWhole(jwksFile, JSON.stringify({ keys: [publicPart(privateJwk)] }, null, 2))
  const key = (await importJWK(privateJwk, ALGORITHM)) as CryptoKey
  return {
    issuer: EMBEDDED_ISSUER,
    config: { issuer: EMBEDDED_ISSUER, jwksFile, development: true },
    publicKeys: () => readFile(jwksFile, 'utf8'),
    mint: (request) => mint(key, privateJwk.kid ?? '', options.audience, request),
  }
}

async function mint(key: CryptoKey, kid: string, audience: string, request: TokenRequest): Promise<string> {
  const { sub, clinic, team, client, lifetimeS = LONGEST_LIFETIME_S } = request
  if ((clinic === undefined) === (team === undefined))
    throw new EmbeddedIssuerError('A token names one clinic or one team.')
  if (!(lifetimeS > 0 && lifetimeS <= LONGEST_LIFETIME_S))
    throw new EmbeddedIssuerError(`A token lives up to ${LONGEST_LIFETIME_S / 3600} hours.`)
  const now = Math.floor(Date.now() / 1000)
  const place = clinic === undefined ? { team } : { clinic }
  return new SignJWT({ ...place, ...(client === undefined ? {} : { client_id: client }) })
    .setProtectedHeader({ alg: ALGORITHM, typ: 'at+jwt', kid })
    .setIssuer(EMBEDDED_ISSUER)
    .setSubject(sub)
    .setAudience(audience)
    .setIssuedAt(now)
    .setExpirationTime(now + Math.floor(lifetimeS))
    .sign(key)
}

async function keptKey(path: string): Promise<JWK> {
  const text = await keptSecret(path, async () => {
    const { privateKey } = await generateKeyPair(ALGORITHM, { extractable: true })
    const jwk = await exportJWK(privateKey)
    return JSON.stringify({ ...jwk, kid: await calculateJwkThumbprint(jwk), alg: ALGORITHM, use: 'sig' })
  })
  try {
    return JSON.parse(text) as JWK
  } catch {
    throw new EmbeddedIssuerError(
      `The key of the embedded issuer in ${path} cannot be read. Move it away to make a new one.`,
    )
  }
}

async function writeWhole(path: string, text: string): Promise<void> {
  const draft = `${path}.${randomUUID()}.draft`
  await writeFile(draft, text, { mode: 0o644 })
  await rename(draft, path)
}

function publicPart({ kty, crv, x, y, kid, alg, use }: JWK): JWK {
  return { kty, crv, x, y, kid, alg, use } as JWK
}
