/** A signed tree head: JWS compact serialisation, Ed25519, checked against keys the reader brought along. */
import { createPublicKey, verify, type KeyObject } from 'node:crypto'
import { sha256 } from './tree-hash.ts'

export type State = { epoch: number; size: number; rootHash: string }

export type Head = State & {
  clinicId: string
  timestamp: string
  previousHead: string | null
  previousEpoch: { reason: string; kept: State; witnessed: State } | null
  /** SHA-256 of the JWS, in hex: what the next head calls `previousHead`. */
  digest: string
}

export type TrustedKeys = ReadonlyMap<string, KeyObject>

/** Reads a JWK Set (RFC 7517), keeping its Ed25519 keys. Throws on anything that is no JWK Set. */
export function readKeys(text: string): TrustedKeys {
  const set = JSON.parse(text) as { keys?: unknown } | null
  if (set === null || !Array.isArray(set.keys)) throw new RangeError('not a JWK Set: no "keys"')
  const keys = new Map<string, KeyObject>()
  for (const { kty, crv, x, kid } of set.keys as Record<string, unknown>[]) {
    if (kty === 'OKP' && crv === 'Ed25519' && typeof x === 'string' && typeof kid === 'string') {
      keys.set(kid, createPublicKey({ key: { kty, crv, x }, format: 'jwk' }))
    }
  }
  if (keys.size === 0) throw new RangeError('the JWK Set holds no Ed25519 key with a "kid"')
  return keys
}

/** The head, if a trusted key signed it and it has the shape of one; otherwise what is wrong with it. */
export function readSignedHead(jws: unknown, keys: TrustedKeys): Head | string {
  const shape = typeof jws === 'string' ? /^([\w-]+)\.([\w-]+)\.([\w-]{86})$/.exec(jws) : null
  if (shape === null) return 'it is not a compact JWS'
  const [, header, payload, signature] = shape as unknown as [string, string, string, string]
  const protectedHeader = parse(header)
  if (protectedHeader?.alg !== 'Ed25519') return 'its algorithm is not Ed25519'
  const key = keys.get(String(protectedHeader.kid))
  if (key === undefined) return `its key ${String(protectedHeader.kid)} is not among the trusted keys`
  const signed = Buffer.from(`${header}.${payload}`, 'ascii')
  if (!verify(null, signed, key, Buffer.from(signature, 'base64url'))) return 'its signature does not verify'
  const body = parse(payload)
  if (body === null || !isHead(body)) return 'its payload is not a tree head'
  return { ...body, digest: digestOf(shape[0]) }
}

export const digestOf = (jws: string): string => sha256(Buffer.from(jws, 'ascii')).toString('hex')

function parse(base64url: string): Record<string, unknown> | null {
  try {
    const value: unknown = JSON.parse(Buffer.from(base64url, 'base64url').toString('utf8'))
    return value !== null && typeof value === 'object' ? (value as Record<string, unknown>) : null
  } catch {
    return null
  }
}

function isHead(value: Record<string, unknown>): value is Omit<Head, 'digest'> {
  const { clinicId, timestamp, previousHead, previousEpoch } = value
  return (
    isState(value) &&
    typeof clinicId === 'string' &&
    typeof timestamp === 'string' &&
    (previousHead === null || typeof previousHead === 'string') &&
    (previousEpoch === null || isPreviousEpoch(previousEpoch))
  )
}

function isPreviousEpoch(value: unknown): boolean {
  if (value === null || typeof value !== 'object') return false
  const { reason, kept, witnessed } = value as Record<string, unknown>
  return typeof reason === 'string' && isState(kept) && isState(witnessed)
}

function isState(value: unknown): value is State {
  if (value === null || typeof value !== 'object') return false
  const { epoch, size, rootHash } = value as Record<string, unknown>
  return isCount(epoch) && isCount(size) && typeof rootHash === 'string' && /^[0-9a-f]{64}$/.test(rootHash)
}

function isCount(value: unknown): boolean {
  return Number.isSafeInteger(value) && (value as number) >= 0
}
