/**
 * Whether a signed report is authentic and unaltered, from its text and the clinic's public keys alone. A surgeon or a team
 * may run it years later: it asks no service, no database and no network, and keys inside the document are never looked at.
 */
import { compactVerify, createLocalJWKSet, decodeProtectedHeader, errors, type JSONWebKeySet } from 'jose'
import { canonicalJson } from '../../domain/canonical-json.ts'
import { parseStrictJson } from '../../domain/strict-json.ts'

export const REPORT_JWS_TYPE = 'limb-ledger-report+jws'

export type ReportVerification =
  | { readonly authentic: true; readonly keyId: string; readonly report: Readonly<Record<string, unknown>> }
  | { readonly authentic: false; readonly reason: string }

/**
 * `text`: the JWS itself, or a JSON document that holds it as `jws`, with what it signs as `report`, as the service answers it.
 * Throws a RangeError for a key set that is none.
 */
export async function verifySignedReport(text: string, keySet: string): Promise<ReportVerification> {
  const keys = readKeySet(keySet)
  const carried = text.trimStart().startsWith('{') ? fromDocument(text) : { jws: text.replace(/\r?\n$/, '') }
  if ('reason' in carried) return no(carried.reason)
  const { jws } = carried
  if (!isStrictCompactJws(jws)) return no('it is not a compact JWS in its one spelling')
  let payload: Uint8Array
  try {
    const verified = await compactVerify(jws, createLocalJWKSet(keys), { algorithms: ['EdDSA'] })
    payload = verified.payload
  } catch (error) {
    return no(wordsFor(error))
  }
  const { kid, typ } = decodeProtectedHeader(jws)
  if (typ !== REPORT_JWS_TYPE) return no('what was signed is not a report')
  const signed = Buffer.from(payload).toString('utf8')
  if ('report' in carried && canonicalOrNull(carried.report) !== signed)
    return no('what it shows beside the signature is not what was signed')
  return { authentic: true, keyId: String(kid), report: JSON.parse(signed) as Record<string, unknown> }
}

const no = (reason: string): ReportVerification => ({ authentic: false, reason })

function readKeySet(text: string): JSONWebKeySet {
  const parsed = parseOrNull(text) as { keys?: unknown } | null
  if (parsed === null || !Array.isArray(parsed.keys)) throw new RangeError('The key set is not a JWK Set (RFC 7517).')
  return parsed as JSONWebKeySet
}

type Carried = { readonly jws: string; readonly report?: unknown } | { readonly reason: string }

function fromDocument(text: string): Carried {
  // Strictly: a key that stands twice could show one thing and sign another.
  const parsed = parseStrictJson(Buffer.from(text, 'utf8'))
  if (!parsed.ok) return { reason: 'it is not a JSON document that can be read in one way only' }
  const { jws, report } = parsed.value as { jws?: unknown; report?: unknown }
  if (typeof jws !== 'string' || report === undefined) return { reason: 'it holds no "jws" with its "report"' }
  return { jws, report }
}

/** Node's decoder takes padding, blanks and unused bits; then a changed byte could go unseen. */
function isStrictCompactJws(jws: string): boolean {
  const parts = /^([A-Za-z0-9_-]+)\.([A-Za-z0-9_-]+)\.([A-Za-z0-9_-]{86})$/.exec(jws)?.slice(1) ?? []
  return (
    parts.length === 3 && parts.every((part) => Buffer.from(part, 'base64url').toString('base64url') === part)
  )
}

function wordsFor(error: unknown): string {
  if (error instanceof errors.JWKSNoMatchingKey) return 'none of the keys given signed it'
  if (error instanceof errors.JWSSignatureVerificationFailed) return 'the signature does not fit what it signs'
  return 'the signature cannot be read'
}

function canonicalOrNull(value: unknown): string | null {
  try {
    return canonicalJson(value)
  } catch {
    return null
  }
}

function parseOrNull(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return null
  }
}
