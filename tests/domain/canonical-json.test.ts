import { createHash } from 'node:crypto'
import { describe, expect, it } from 'vitest'
import canonicalize from 'canonicalize'
import fc from 'fast-check'
import { canonicalJson, canonicalSha256 } from '../../src/domain/canonical-json.ts'

describe('canonical JSON', () => {
  it('writes the example of RFC 8785 section 3.2.4', () => {
    const sent = JSON.parse(
      '{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001], "string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/", "literals": [null, true, false]}',
    ) as unknown
    expect(canonicalJson(sent)).toBe(
      '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
    )
  })

  it('agrees with an independent implementation, and hashes the same bytes', () => {
    fc.assert(
      fc.property(fc.jsonValue(), (value) => {
        const expected = canonicalize(value)
        expect(canonicalJson(value)).toBe(expected)
        expect(canonicalSha256(value)).toBe(
          createHash('sha256')
            .update(expected ?? '')
            .digest('hex'),
        )
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })

  it('orders keys by UTF-16 code unit, not by code point', () => {
    expect(canonicalJson({ '\uFB33': 1, '😀': 2, a: 3 })).toBe('{"a":3,"😀":2,"\uFB33":1}')
  })

  it('does not tell 0 from -0 and tells an array of numbers from its text', () => {
    expect(canonicalSha256([0, 1])).toBe(canonicalSha256([-0, 1]))
    expect(canonicalSha256([1])).not.toBe(canonicalSha256('[1]'))
  })

  it('refuses what JSON cannot hold', () => {
    for (const value of [NaN, Infinity, '\ud800', [1, NaN], { a: 1n }, () => 1]) {
      expect(() => canonicalSha256(value)).toThrow(RangeError)
    }
  })
})
