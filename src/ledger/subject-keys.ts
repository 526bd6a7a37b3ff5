/**
 * One key per subject for the texts the ledger keeps about them. The key is stored wrapped by a key-encryption key
 * that lives outside the database; erasing the subject destroys the wrapped key and with it every such text, in the
 * ledger and in its exports, while leaves, roots and proofs stay as they are.
 *
 * AES-256-GCM throughout, a fresh 96-bit IV each time. The additional data bind a ciphertext to its place, so that
 * moving one to another subject, event or field makes it unreadable instead of misleading.
 */
import { createCipheriv, createDecipheriv, createHash, randomBytes } from 'node:crypto'
import type { EncryptedText } from './canonical-event.ts'

const KEY_BYTES = 32
const IV_BYTES = 12
const TAG_BYTES = 16
const WRAP_VERSION = 1
/** Version, IV, encrypted key, tag. */
export const WRAPPED_KEY_BYTES: number = 1 + IV_BYTES + KEY_BYTES + TAG_BYTES

/** Key-encryption keys: new subject keys are wrapped under the current one, the others still open what they wrapped. */
export type KeyRing = {
  readonly current: { readonly id: string; readonly key: Uint8Array }
  readonly find: (id: string) => Uint8Array | undefined
}

/** A text with one key a line, 32 bytes each as base64url; the first is the current one. RangeError for anything else. */
export function readKeyRing(text: string): KeyRing {
  const keys = text
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '')
    .map((line) => {
      const key = Buffer.from(line, 'base64url')
      if (key.toString('base64url') !== line || key.length !== KEY_BYTES)
        throw new RangeError('a subject key file holds one key a line: 32 bytes as base64url, 43 characters')
      // A hash of 32 random bytes gives nothing away and needs nobody to assign it.
      return { id: createHash('sha256').update(key).digest('hex').slice(0, 16), key }
    })
  const [current] = keys
  if (current === undefined) throw new RangeError('a subject key file holds at least one key')
  return { current, find: (id) => keys.find((one) => one.id === id)?.key }
}

export const makeKeyRingText = (): string => `${randomBytes(KEY_BYTES).toString('base64url')}\n`

export type SubjectPlace = { readonly clinicId: string; readonly subjectId: string }
export type TextPlace = SubjectPlace & { readonly eventId: string; readonly field: string }

export function makeSubjectKey(): Buffer {
  return randomBytes(KEY_BYTES)
}

export function wrapSubjectKey(keyEncryptionKey: Uint8Array, subjectKey: Uint8Array, place: SubjectPlace): Buffer {
  requireKey(keyEncryptionKey)
  requireKey(subjectKey)
  const { iv, ciphertext, tag } = seal(keyEncryptionKey, subjectKey, wrapContext(place))
  return Buffer.concat([Buffer.from([WRAP_VERSION]), iv, ciphertext, tag])
}

/** Null when the bytes are not this subject's key under this key-encryption key. */
export function unwrapSubjectKey(keyEncryptionKey: Uint8Array, wrapped: Buffer, place: SubjectPlace): Buffer | null {
  requireKey(keyEncryptionKey)
  if (wrapped.length !== WRAPPED_KEY_BYTES || wrapped[0] !== WRAP_VERSION) return null
  const iv = wrapped.subarray(1, 1 + IV_BYTES)
  const ciphertext = wrapped.subarray(1 + IV_BYTES, 1 + IV_BYTES + KEY_BYTES)
  const tag = wrapped.subarray(1 + IV_BYTES + KEY_BYTES)
  return open(keyEncryptionKey, { iv, ciphertext, tag }, wrapContext(place))
}

export function encryptForSubject(subjectKey: Uint8Array, text: string, place: TextPlace): EncryptedText {
  requireKey(subjectKey)
  const { iv, ciphertext, tag } = seal(subjectKey, Buffer.from(text, 'utf8'), textContext(place))
  return {
    encryption: 'A256GCM',
    subjectId: place.subjectId,
    iv: iv.toString('base64url'),
    ciphertext: ciphertext.toString('base64url'),
    tag: tag.toString('base64url'),
  }
}

/** Null when this key, or this place, is not the one the text was written under. */
export function decryptForSubject(
  subjectKey: Uint8Array,
  encrypted: EncryptedText,
  place: Omit<TextPlace, 'subjectId'>,
): string | null {
  requireKey(subjectKey)
  const parts = {
    iv: Buffer.from(encrypted.iv, 'base64url'),
    ciphertext: Buffer.from(encrypted.ciphertext, 'base64url'),
    tag: Buffer.from(encrypted.tag, 'base64url'),
  }
  if (parts.iv.length !== IV_BYTES || parts.tag.length !== TAG_BYTES) return null
  const opened = open(subjectKey, parts, textContext({ ...place, subjectId: encrypted.subjectId }))
  return opened === null ? null : opened.toString('utf8')
}

type Sealed = { iv: Buffer; ciphertext: Buffer; tag: Buffer }

function seal(key: Uint8Array, plain: Uint8Array, context: Buffer): Sealed {
  const iv = randomBytes(IV_BYTES)
  const cipher = createCipheriv('aes-256-gcm', key, iv, { authTagLength: TAG_BYTES }).setAAD(context)
  const ciphertext = Buffer.concat([cipher.update(plain), cipher.final()])
  return { iv, ciphertext, tag: cipher.getAuthTag() }
}

function open(key: Uint8Array, { iv, ciphertext, tag }: Sealed, context: Buffer): Buffer | null {
  const decipher = createDecipheriv('aes-256-gcm', key, iv, { authTagLength: TAG_BYTES })
  decipher.setAAD(context).setAuthTag(tag)
  try {
    return Buffer.concat([decipher.update(ciphertext), decipher.final()])
  } catch {
    return null
  }
}

/** JSON of an array keeps the parts apart: no two places share a context. */
function wrapContext(place: SubjectPlace): Buffer {
  return Buffer.from(JSON.stringify(['subject-key', place.clinicId, place.subjectId]))
}

function textContext(place: TextPlace): Buffer {
  return Buffer.from(JSON.stringify(['audit-text', place.clinicId, place.subjectId, place.eventId, place.field]))
}

function requireKey(key: Uint8Array): void {
  if (key.length !== KEY_BYTES) throw new RangeError(`a key has ${KEY_BYTES} bytes`)
}
