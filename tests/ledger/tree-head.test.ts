import { createPublicKey, generateKeyPairSync } from 'node:crypto'
import { calculateJwkThumbprint, compactVerify, importJWK } from 'jose'
import { describe, expect, it } from 'vitest'
import type { TreeHead } from '../../src/ledger/tree-head.ts'
import {
  digestOfHead,
  headSignerFromPem,
  makeSigningKeyPem,
  publicJwkOf,
  signTreeHead,
  unsafeReadTreeHead,
  verifyTreeHead,
} from '../../src/ledger/tree-head.ts'
import { readKeys, readSignedHead } from '../../src/ledger/verify/signed-head.ts'

const signer = headSignerFromPem(makeSigningKeyPem())
const trusted = { keys: [signer.publicJwk] }
const head: TreeHead = {
  clinicId: '0a0a0a0a-0000-4000-8000-000000000001',
  epoch: 1,
  size: 12,
  rootHash: 'ab'.repeat(32),
  timestamp: '2026-11-25T08:00:00.000Z',
  previousHead: 'cd'.repeat(32),
  previousEpoch: null,
}
const { jws } = signTreeHead(head, signer)
const base64url = (value: unknown): string => Buffer.from(JSON.stringify(value)).toString('base64url')

describe('a signed tree head', () => {
  it('reads back as it was signed', () => {
    expect(verifyTreeHead(jws, trusted)).toEqual({ head, jws, keyId: signer.keyId })
  })

  it('is an ordinary JWS: other software verifies it and finds the same key id', async () => {
    const { payload, protectedHeader } = await compactVerify(jws, await importJWK(signer.publicJwk, 'Ed25519'))
    expect(JSON.parse(new TextDecoder().decode(payload))).toEqual(head)
    expect(protectedHeader).toEqual({ alg: 'Ed25519', kid: signer.keyId, typ: 'limb-ledger-tree-head+jws' })
    expect(await calculateJwkThumbprint(signer.publicJwk)).toBe(signer.keyId)
  })

  it('has the key id that RFC 8037 appendix A.3 computes for its example key', () => {
    const key = createPublicKey({
      key: { kty: 'OKP', crv: 'Ed25519', x: '11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo' },
      format: 'jwk',
    })
    expect(publicJwkOf(key).kid).toBe('kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k')
  })

  it('still verifies after the key was changed, as long as the old one is trusted', () => {
    const next = headSignerFromPem(makeSigningKeyPem())
    expect(verifyTreeHead(jws, { keys: [next.publicJwk, signer.publicJwk] })?.keyId).toBe(signer.keyId)
    expect(verifyTreeHead(jws, { keys: [next.publicJwk] })).toBeNull()
  })

  it('is refused by both readers when anything about it is not right', () => {
    const [protectedHeader, payload, signature] = jws.split('.') as [string, string, string]
    const other = headSignerFromPem(makeSigningKeyPem())
    const impostor = { ...other, keyId: signer.keyId }
    const bad = {
      'another payload': [protectedHeader, base64url({ ...head, size: 13 }), signature].join('.'),
      'no signature': [protectedHeader, payload, ''].join('.'),
      'alg none': [
        base64url({ alg: 'none', kid: signer.keyId, typ: 'limb-ledger-tree-head+jws' }),
        payload,
        signature,
      ].join('.'),
      'a key of its own': [
        base64url({ alg: 'Ed25519', jwk: other.publicJwk, typ: 'limb-ledger-tree-head+jws' }),
        payload,
        signature,
      ].join('.'),
      'a stranger under our key id': signTreeHead(head, impostor).jws,
      padding: `${jws}=`,
      'a blank': ` ${jws}`,
      'another part': `${jws}.x`,
      nothing: '',
      'no JSON': `${Buffer.from('x').toString('base64url')}.${payload}.${signature}`,
    }
    const keys = readKeys(JSON.stringify(trusted))
    for (const [name, text] of Object.entries(bad)) {
      expect(verifyTreeHead(text, trusted), name).toBeNull()
      expect(readSignedHead(text, keys), name).toBeTypeOf('string')
    }
  })

  it('has one spelling: the spare bits of base64url cannot give it another digest', () => {
    const last = jws.at(-1)!
    const alphabet = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_'
    const sibling = jws.slice(0, -1) + alphabet[alphabet.indexOf(last) ^ 1]!
    expect(Buffer.from(sibling.split('.')[2]!, 'base64url')).toEqual(Buffer.from(jws.split('.')[2]!, 'base64url'))
    expect(digestOfHead(sibling)).not.toBe(digestOfHead(jws))
    expect(verifyTreeHead(sibling, trusted)).toBeNull()
  })

  it('can be read without being believed, for ordering', () => {
    expect(unsafeReadTreeHead(jws)).toEqual(head)
    expect(unsafeReadTreeHead('nonsense')).toBeNull()
  })

  it('needs an Ed25519 key', () => {
    const rsa = generateKeyPairSync('rsa', { modulusLength: 2048 })
    expect(() => headSignerFromPem(rsa.privateKey.export({ type: 'pkcs8', format: 'pem' }).toString())).toThrow(
      RangeError,
    )
    expect(() => publicJwkOf(rsa.publicKey)).toThrow(RangeError)
  })
})
