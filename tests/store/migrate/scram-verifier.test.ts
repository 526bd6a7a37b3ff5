import { describe, expect, it } from 'vitest'
import { scramVerifier } from '../../../src/store/migrate/scram-verifier.ts'

describe('scramVerifier', () => {
  it.each(['short', 'has a space in the middle', 'pässwörd-not-ascii-at-all', ''])('refuses %j', (password) => {
    expect(() => scramVerifier(password)).toThrow(RangeError)
  })

  it('is the same for the same salt and another for another', () => {
    const salt = Buffer.alloc(16, 7)
    expect(scramVerifier('sixteen-letters-x', salt)).toBe(scramVerifier('sixteen-letters-x', salt))
    expect(scramVerifier('sixteen-letters-x')).not.toBe(scramVerifier('sixteen-letters-x'))
  })
})
