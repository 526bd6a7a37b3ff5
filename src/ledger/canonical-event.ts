/**
 * What one entry of the audit ledger says, and the exact bytes that are hashed for it.
 *
 * The bytes are the RFC 8785 form of `AuditEntry`. They hold no personal text: people are UUIDs, words are code words,
 * and a text about a person is an `EncryptedText` under that person's key (see subject-keys.ts), so that destroying
 * the key makes the text unreadable while every proof still verifies. The random event id salts each leaf: a leaf hash
 * cannot be guessed from the few values a field may take.
 */
import canonicalize from 'canonicalize'
import { hashLeaf } from './merkle.ts'

export type JsonValue = string | number | boolean | null | JsonValue[] | { [key: string]: JsonValue }

/** What a request hands over, inside the transaction of its effect. */
export type AuditEvent = {
  readonly clinicId: string
  readonly id: string
  /** Null when the caller could not be identified. */
  readonly actorPrincipalId: string | null
  readonly actorRole: string | null
  /** The software the actor used, by its registered client id. */
  readonly client: string | null
  /** A code word, as listed in the consent; never free text. */
  readonly purpose: string | null
  readonly action: string
  readonly outcome: string
  readonly requestId: string
  /** Every subject whose data the answer disclosed or the effect touched. */
  readonly subjectIds: readonly string[]
  readonly resourceIds: JsonValue
  readonly details: JsonValue
}

/** The event once it has its place: epoch and 1-based sequence, which is its leaf index + 1. */
export type AuditEntry = AuditEvent & {
  readonly epoch: number
  readonly sequence: number
  /** When the database took the event in: 2026-11-25T07:31:00.123Z */
  readonly at: string
}

export type CanonicalEntry = { readonly bytes: Buffer; readonly leafHash: Buffer }

/** Canonical bytes (RFC 8785, UTF-8) of an entry, and leaf = SHA-256(00 || bytes). */
export function canonicalEntry(entry: AuditEntry): CanonicalEntry {
  const bytes = canonicalBytes(entry)
  return { bytes, leafHash: hashLeaf(bytes) }
}

export function canonicalBytes(entry: AuditEntry): Buffer {
  const text = canonicalize({
    format: 'limb-ledger-audit-entry/1',
    clinicId: entry.clinicId,
    epoch: entry.epoch,
    sequence: entry.sequence,
    id: entry.id,
    at: entry.at,
    actor: { principalId: entry.actorPrincipalId, role: entry.actorRole, client: entry.client },
    purpose: entry.purpose,
    action: entry.action,
    outcome: entry.outcome,
    requestId: entry.requestId,
    subjectIds: entry.subjectIds,
    resourceIds: entry.resourceIds,
    details: entry.details,
  })
  return Buffer.from(text!, 'utf8')
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/
const CODE_WORD = /^[a-z][a-z0-9]*([._-][a-z0-9]+)*$/
const CLIENT_ID = /^[\x21-\x7e]{1,128}$/
/** Words a machine wrote: code words, ids, instants, digests, pointers, routes, kind/id, series, issuers. No sentence, no name. */
const MACHINE_WORDS: readonly RegExp[] = [
  CODE_WORD,
  UUID,
  /^\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d(\.\d{1,9})?)?(Z|[+-]\d\d:\d\d))?$/,
  /^sha256:[0-9a-f]{64}$/,
  /^#?(\/[A-Za-z0-9_.:~{}-]*)+$/,
  /^(GET|HEAD|POST|PUT|PATCH|DELETE|OPTIONS) \/[A-Za-z0-9_.:~{}/-]*$/,
  /^[a-z][a-z_-]*\/[A-Za-z0-9.+@_-]+$/,
  /^[a-z]+(\/[a-z_]+){3}\/\d+(\.\d+)?$/,
  /^https?:\/\/[A-Za-z0-9.:_~-]+(\/[A-Za-z0-9._~-]*)*$/,
  /^(W\/)?"\d+"$/,
  /^\d+(\.\d+){0,3}$/,
  /^$/,
]
const MAX_WORD = 256
const MAX_DETAILS_BYTES = 32_768
const MAX_DEPTH = 8

export const isCodeWord = (text: string): boolean => text.length <= MAX_WORD && CODE_WORD.test(text)

/** Whether a client names itself in a form that an event can carry. */
export const isClientId = (text: string): boolean => CLIENT_ID.test(text)

/**
 * Checks an event before it is written and puts the subjects into their one order. Anything that could be a sentence
 * or a name is refused: it belongs into an `EncryptedText`, or not into the ledger. (A lower-case surname looks like a
 * code word; no pattern can tell, so callers pass words from lists, not words from people.)
 * Throws RangeError: what is in an event is decided by our code, so a bad one is our mistake.
 */
export function makeAuditEvent(event: AuditEvent): AuditEvent {
  requireMatch(event.clinicId, UUID, 'clinicId')
  requireMatch(event.id, UUID, 'id')
  if (event.actorPrincipalId !== null) requireMatch(event.actorPrincipalId, UUID, 'actorPrincipalId')
  if (event.actorRole !== null) requireMatch(event.actorRole, CODE_WORD, 'actorRole')
  if (event.client !== null) requireMatch(event.client, CLIENT_ID, 'client')
  if (event.purpose !== null) requireMatch(event.purpose, CODE_WORD, 'purpose')
  requireMatch(event.action, CODE_WORD, 'action')
  requireMatch(event.outcome, CODE_WORD, 'outcome')
  requireMatch(event.requestId, CLIENT_ID, 'requestId')
  for (const id of event.subjectIds) requireMatch(id, UUID, 'subjectIds')
  requireMachineWords(event.resourceIds, 'resourceIds', 0)
  requireMachineWords(event.details, 'details', 0)
  const detailsBytes = Buffer.byteLength(JSON.stringify([event.resourceIds, event.details]))
  if (detailsBytes > MAX_DETAILS_BYTES) throw new RangeError(`an event carries at most ${MAX_DETAILS_BYTES} bytes`)
  return { ...event, subjectIds: [...new Set(event.subjectIds)].sort() }
}

function requireMatch(value: string, pattern: RegExp, name: string): void {
  if (value.length > MAX_WORD || !pattern.test(value)) throw new RangeError(`audit event: ${name} is not in its form`)
}

function requireMachineWords(value: JsonValue, path: string, depth: number): void {
  if (depth > MAX_DEPTH) throw new RangeError(`audit event: ${path} is nested too deeply`)
  if (value === null || typeof value === 'boolean') return
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new RangeError(`audit event: ${path} is not a finite number`)
    return
  }
  if (typeof value === 'string') {
    if (value.length <= MAX_WORD && MACHINE_WORDS.some((word) => word.test(value))) return
    throw new RangeError(`audit event: ${path} is free text; encrypt it under its subject's key`)
  }
  if (Array.isArray(value)) {
    value.forEach((item, index) => requireMachineWords(item, `${path}[${index}]`, depth + 1))
    return
  }
  if (isEncryptedText(value)) return
  for (const [key, item] of Object.entries(value)) {
    if (!/^[A-Za-z][A-Za-z0-9]{0,63}$/.test(key)) throw new RangeError(`audit event: a key under ${path} is not a name`)
    requireMachineWords(item, `${path}.${key}`, depth + 1)
  }
}

/** A text about one subject, readable only while that subject's key exists. Base64url, AES-256-GCM. */
export type EncryptedText = {
  readonly encryption: 'A256GCM'
  readonly subjectId: string
  readonly iv: string
  readonly ciphertext: string
  readonly tag: string
}

export function isEncryptedText(value: JsonValue): value is EncryptedText {
  if (value === null || typeof value !== 'object' || Array.isArray(value)) return false
  const { encryption, subjectId, iv, ciphertext, tag } = value
  return (
    Object.keys(value).length === 5 &&
    encryption === 'A256GCM' &&
    typeof subjectId === 'string' &&
    UUID.test(subjectId) &&
    typeof iv === 'string' &&
    /^[A-Za-z0-9_-]{16}$/.test(iv) &&
    typeof ciphertext === 'string' &&
    /^[A-Za-z0-9_-]*$/.test(ciphertext) &&
    typeof tag === 'string' &&
    /^[A-Za-z0-9_-]{22}$/.test(tag)
  )
}
