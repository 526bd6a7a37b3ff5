/**
 * The keys that sign reports. One file for an installation holds secrets, newest first; from each, every clinic gets a key
 * pair of its own (Ed25519; seed = HKDF-SHA-256 of the secret, with the clinic's id as info). So a report of one clinic never
 * verifies with the keys of another, a new clinic needs no new file, and nobody learns from a key set which clinics there are.
 * Rotation: a new secret is put first and signs from then on; the old ones stay, to publish their public keys, or the reports
 * signed with them could no longer be verified. A secret that has leaked is taken out, and that is then what it means.
 */
import { createPrivateKey, createPublicKey, hkdfSync, randomBytes, type KeyObject } from 'node:crypto'
import { calculateJwkThumbprint, CompactSign, exportJWK } from 'jose'
import { z } from 'zod'
import { canonicalJson } from '../../domain/canonical-json.ts'
import { REPORT_JWS_TYPE } from './verify-signed-report.ts'

const keyFile = z.strictObject({
  secrets: z
    .array(z.strictObject({ id: z.string().min(1), secret: z.string().regex(/^[A-Za-z0-9_-]{43}$/) }))
    .min(1)
    .refine((all) => new Set(all.map(({ id }) => id)).size === all.length, 'two secrets have one id'),
})

export interface PublicReportKey {
  readonly kty: 'OKP'
  readonly crv: 'Ed25519'
  readonly x: string
  readonly kid: string
  readonly alg: 'EdDSA'
  readonly use: 'sig'
}

export interface SignedReport {
  readonly jws: string
  readonly keyId: string
}

export interface ReportKeys {
  /** Signs the RFC 8785 form of a document with the clinic's newest key. */
  readonly sign: (clinicId: string, document: unknown) => Promise<SignedReport>
  /** Newest first, as a JWK Set (RFC 7517). */
  readonly publicKeys: (clinicId: string) => Promise<{ readonly keys: readonly PublicReportKey[] }>
}

/** `text`: {"secrets": [{"id", "secret": 32 bytes in base64url}, ...]}, the signing one first. Throws a RangeError. */
export function openReportKeys(text: string): ReportKeys {
  const secrets = readSecrets(text)
  const publicKeys = (clinicId: string) =>
    Promise.all(secrets.map((secret) => publicKeyOf(createPublicKey(privateKeyOf(secret, clinicId)))))
  return {
    publicKeys: async (clinicId) => ({ keys: await publicKeys(clinicId) }),
    sign: async (clinicId, document) => {
      const key = privateKeyOf(secrets[0] as Uint8Array, clinicId)
      const { kid } = await publicKeyOf(createPublicKey(key))
      const jws = await new CompactSign(new TextEncoder().encode(canonicalJson(document)))
        .setProtectedHeader({ alg: 'EdDSA', kid, typ: REPORT_JWS_TYPE })
        .sign(key)
      return { jws, keyId: kid }
    },
  }
}

/** A new secret goes first; those that were there stay behind it. */
export function makeReportKeysText(before: string | null = null): string {
  const kept = before === null ? [] : parseFile(before).secrets
  const id = new Date().toISOString()
  const secret = randomBytes(32).toString('base64url')
  return JSON.stringify({ secrets: [{ id, secret }, ...kept] }, null, 2)
}

function readSecrets(text: string): readonly Uint8Array[] {
  return parseFile(text).secrets.map(({ secret }) => Buffer.from(secret, 'base64url'))
}

function parseFile(text: string): z.output<typeof keyFile> {
  try {
    return keyFile.parse(JSON.parse(text))
  } catch {
    // What is wrong with it stays unsaid: the file is a secret.
    throw new RangeError('The file of report keys is not acceptable: {"secrets":[{"id","secret"}]}, 32 bytes each.')
  }
}

/** PKCS #8 around the 32 bytes of an Ed25519 seed (RFC 8410). */
const PKCS8_PREFIX = Buffer.from('302e020100300506032b657004220420', 'hex')

function privateKeyOf(secret: Uint8Array, clinicId: string): KeyObject {
  const seed = hkdfSync('sha256', secret, 'limb-ledger report key/1', clinicId, 32)
  return createPrivateKey({ key: Buffer.concat([PKCS8_PREFIX, Buffer.from(seed)]), format: 'der', type: 'pkcs8' })
}

async function publicKeyOf(key: KeyObject): Promise<PublicReportKey> {
  const { x } = await exportJWK(key)
  const jwk = { kty: 'OKP', crv: 'Ed25519', x: x as string } as const
  return { ...jwk, kid: await calculateJwkThumbprint(jwk), alg: 'EdDSA', use: 'sig' }
}
