import { randomBytes, randomUUID } from 'node:crypto'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  decryptForSubject,
  encryptForSubject,
  makeSubjectKey,
  unwrapSubjectKey,
  WRAPPED_KEY_BYTES,
  wrapSubjectKey,
} from '../../src/ledger/subject-keys.ts'

const keyEncryptionKey = randomBytes(32)
const place = { clinicId: randomUUID(), subjectId: randomUUID() }
const textPlace = { ...place, eventId: randomUUID(), field: 'reason' }

describe('a wrapped subject key', () => {
  it('comes back whole, and has the size that the table expects', () => {
    const key = makeSubjectKey()
    const wrapped = wrapSubjectKey(keyEncryptionKey, key, place)
    expect(wrapped).toHaveLength(WRAPPED_KEY_BYTES)
    expect(WRAPPED_KEY_BYTES).toBe(61)
    expect(unwrapSubjectKey(keyEncryptionKey, wrapped, place)).toEqual(key)
  })

  it('does not show the key', () => {
    const key = makeSubjectKey()
    expect(wrapSubjectKey(keyEncryptionKey, key, place).includes(key)).toBe(false)
  })

  it('is nothing under another key, for another subject, in another clinic', () => {
    const wrapped = wrapSubjectKey(keyEncryptionKey, makeSubjectKey(), place)
    expect(unwrapSubjectKey(randomBytes(32), wrapped, place)).toBeNull()
    expect(unwrapSubjectKey(keyEncryptionKey, wrapped, { ...place, subjectId: randomUUID() })).toBeNull()
    expect(unwrapSubjectKey(keyEncryptionKey, wrapped, { ...place, clinicId: randomUUID() })).toBeNull()
  })

  it('is nothing once any byte of it has changed, or one is missing', () => {
    const wrapped = wrapSubjectKey(keyEncryptionKey, makeSubjectKey(), place)
    for (let at = 0; at < wrapped.length; at++) {
      const changed = Buffer.from(wrapped)
      changed[at] = changed[at]! ^ 1
      expect(unwrapSubjectKey(keyEncryptionKey, changed, place)).toBeNull()
    }
    expect(unwrapSubjectKey(keyEncryptionKey, wrapped.subarray(1), place)).toBeNull()
    expect(unwrapSubjectKey(keyEncryptionKey, Buffer.alloc(0), place)).toBeNull()
  })

  it('needs keys of 32 bytes', () => {
    expect(() => wrapSubjectKey(randomBytes(16), makeSubjectKey(), place)).toThrow(RangeError)
    expect(() => wrapSubjectKey(keyEncryptionKey, randomBytes(31), place)).toThrow(RangeError)
  })
})

describe('a text under a subject’s key', () => {
  it('reads back as it was written, whatever it was', () => {
    const key = makeSubjectKey()
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme' }), (text) => {
        expect(decryptForSubject(key, encryptForSubject(key, text, textPlace), textPlace)).toBe(text)
      }),
      { seed: 20261125, numRuns: 200 },
    )
  })

  it('looks different each time, so that equal texts cannot be told', () => {
    const key = makeSubjectKey()
    const texts = Array.from({ length: 50 }, () => encryptForSubject(key, 'yes', textPlace))
    expect(new Set(texts.map(({ ciphertext, tag }) => ciphertext + tag)).size).toBe(50)
    expect(new Set(texts.map(({ iv }) => iv)).size).toBe(50)
  })

  it('is unreadable under another key and in another place', () => {
    const key = makeSubjectKey()
    const encrypted = encryptForSubject(key, 'The knee was swollen.', textPlace)
    expect(decryptForSubject(makeSubjectKey(), encrypted, textPlace)).toBeNull()
    expect(decryptForSubject(key, encrypted, { ...textPlace, eventId: randomUUID() })).toBeNull()
    expect(decryptForSubject(key, encrypted, { ...textPlace, field: 'note' })).toBeNull()
    expect(decryptForSubject(key, encrypted, { ...textPlace, clinicId: randomUUID() })).toBeNull()
    expect(decryptForSubject(key, { ...encrypted, subjectId: randomUUID() }, textPlace)).toBeNull()
    expect(decryptForSubject(key, { ...encrypted, tag: encrypted.tag.slice(4) }, textPlace)).toBeNull()
    expect(decryptForSubject(key, { ...encrypted, iv: '' }, textPlace)).toBeNull()
  })
})
