/**
 * Texts about a person inside audit events: written under that person's key, so that destroying the key makes them
 * unreadable in the ledger and in every export of it, while the proofs stay what they are.
 */
import { isEncryptedText, type EncryptedText, type JsonValue } from '../../ledger/canonical-event.ts'
import {
  decryptForSubject,
  encryptForSubject,
  makeSubjectKey,
  unwrapSubjectKey,
  wrapSubjectKey,
  type KeyRing,
} from '../../ledger/subject-keys.ts'
import { keepSubjectKey, loadSubjectKeys, type WrappedKey } from '../../store/subject-key-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'

export interface PersonalText {
  /** Name of the member of `details` that carries it. */
  readonly field: string
  readonly subjectId: string
  readonly text: string
}

export async function encryptPersonalTexts(
  tx: ClinicTx,
  ring: KeyRing,
  eventId: string,
  texts: readonly PersonalText[],
): Promise<Record<string, EncryptedText>> {
  const { clinicId } = tx
  const encrypted: Record<string, EncryptedText> = {}
  for (const { field, subjectId, text } of texts) {
    const key = await keyOf(tx, ring, subjectId)
    encrypted[field] = encryptForSubject(key, text, { clinicId, subjectId, eventId, field })
  }
  return encrypted
}

async function keyOf(tx: ClinicTx, ring: KeyRing, subjectId: string): Promise<Uint8Array> {
  const place = { clinicId: tx.clinicId, subjectId }
  const wrappedKey = wrapSubjectKey(ring.current.key, makeSubjectKey(), place)
  const kept = await keepSubjectKey(tx, { subjectId, kekId: ring.current.id, wrappedKey })
  const key = kept === null ? null : unwrap(ring, tx.clinicId, kept)
  if (key === null) throw new Error('no key at hand opens the key of the subject; is SUBJECT_KEY_FILE complete?')
  return key
}

function unwrap(ring: KeyRing, clinicId: string, { subjectId, kekId, wrappedKey }: WrappedKey): Uint8Array | null {
  const keyEncryptionKey = ring.find(kekId)
  return keyEncryptionKey === undefined
    ? null
    : unwrapSubjectKey(keyEncryptionKey, Buffer.from(wrappedKey), { clinicId, subjectId })
}

/** What stands in the place of a text once it is decrypted, or cannot be any more. */
export type ReadableText = { readonly subjectId: string } & (
  { readonly text: string } | { readonly text: null; readonly reason: 'erased' | 'not_decryptable' }
)

export interface EventDetails {
  readonly id: string
  readonly details: JsonValue
}

/** Details with their personal texts in clear where the key still exists; and whose texts those were. */
export async function readPersonalTexts(
  tx: ClinicTx,
  ring: KeyRing,
  events: readonly EventDetails[],
): Promise<{ details: readonly JsonValue[]; shown: ReadonlySet<string> }> {
  const texts = events.flatMap(({ details }) => Object.values(objectOf(details)).filter(isEncryptedText))
  const wrapped = texts.length === 0 ? [] : await loadSubjectKeys(tx, [...new Set(texts.map((t) => t.subjectId))])
  const keys = new Map(wrapped.map((one) => [one.subjectId, unwrap(ring, tx.clinicId, one)]))
  const shown = new Set<string>()
  const open = (eventId: string, field: string, text: EncryptedText): ReadableText => {
    const { subjectId } = text
    const key = keys.get(subjectId)
    if (key === undefined) return { subjectId, text: null, reason: 'erased' }
    const clear = key === null ? null : decryptForSubject(key, text, { clinicId: tx.clinicId, eventId, field })
    if (clear === null) return { subjectId, text: null, reason: 'not_decryptable' }
    shown.add(subjectId)
    return { subjectId, text: clear }
  }
  const details = events.map(({ id, details: sealed }) =>
    Object.fromEntries(
      Object.entries(objectOf(sealed)).map(([field, value]) => [
        field,
        isEncryptedText(value) ? open(id, field, value) : value,
      ]),
    ),
  )
  return { details, shown }
}

const objectOf = (value: JsonValue): Record<string, JsonValue> =>
  value !== null && typeof value === 'object' && !Array.isArray(value) ? value : {}
