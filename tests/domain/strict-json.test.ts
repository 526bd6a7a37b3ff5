import { describe, expect, it } from 'vitest'
import fc from 'fast-check'
import jsonc from 'jsonc-parser'
import { parse as secureParse } from 'secure-json-parse'
import { DEFAULT_JSON_LIMITS, parseStrictJson } from '../../src/domain/strict-json.ts'

const utf8 = (text: string): Uint8Array => new TextEncoder().encode(text)
const faultsOf = (text: string | Uint8Array): { pointer: string; code: string }[] => {
  const parsed = parseStrictJson(typeof text === 'string' ? utf8(text) : text)
  return parsed.ok ? [] : parsed.faults.map(({ pointer, code }) => ({ pointer, code }))
}
const nested = (depth: number, open = '[', close = ']'): string => open.repeat(depth) + '1' + close.repeat(depth)

describe('strict JSON', () => {
  const refused: [what: string, body: string | Uint8Array, pointer: string, code: string][] = [
    ['an empty body', '', '#', 'invalid_json'],
    ['a body that is cut off', '{"a": [1, 2', '#', 'invalid_json'],
    ['two values', '{} {}', '#', 'invalid_json'],
    ['a comment', '{"a": 1 /* b */}', '#', 'invalid_json'],
    ['a trailing comma', '{"a": 1,}', '#', 'invalid_json'],
    ['NaN', '{"a": NaN}', '#', 'invalid_json'],
    ['Infinity', '{"a": -Infinity}', '#', 'invalid_json'],
    ['a leading zero', '{"a": 01}', '#', 'invalid_json'],
    ['a raw control character', '{"a": "\u0001"}', '#', 'invalid_json'],
    ['a byte order mark', '\uFEFF{}', '#', 'invalid_json'],
    ['1e999', '{"a": [0, 1e999]}', '#/a/1', 'out_of_range'],
    ['-1e999', '{"a": {"b": -1e999}}', '#/a/b', 'out_of_range'],
    ['a repeated key', '{"a": {"b": 1, "b": 1}}', '#/a/b', 'duplicate_key'],
    ['a repeated key inside an array', '{"a": [{}, {"x": 1, "y": 2, "x": 3}]}', '#/a/1/x', 'duplicate_key'],
    ['a repeated key in two spellings', '{"a": 1, "\\u0061": 2}', '#/a', 'duplicate_key'],
    ['invalid UTF-8', Uint8Array.of(0x7b, 0x22, 0xff, 0x22, 0x3a, 0x31, 0x7d), '#', 'invalid_utf8'],
    ['an overlong encoding', Uint8Array.of(0x22, 0xc0, 0x80, 0x22), '#', 'invalid_utf8'],
    ['a surrogate in UTF-8', Uint8Array.of(0x22, 0xed, 0xa0, 0x80, 0x22), '#', 'invalid_utf8'],
    ['an escaped NUL', '{"a": "x\\u0000y"}', '#/a', 'nul_character'],
    ['a NUL in a key', '{"a\\u0000": 1}', '#/a%00', 'nul_character'],
    ['a lone high surrogate', '{"a": ["\\ud800"]}', '#/a/0', 'lone_surrogate'],
    ['a lone low surrogate', '{"a": "\\udc00 x"}', '#/a', 'lone_surrogate'],
    ['a __proto__ key', '{"a": {"__proto__": {}}}', '#/a/__proto__', 'forbidden_key'],
    ['an escaped __proto__ key', '{"\\u005f_proto__": 1}', '#/__proto__', 'forbidden_key'],
    ['constructor.prototype', '{"constructor": {"prototype": {}}}', '#/constructor', 'forbidden_key'],
    ['nesting beyond 32', nested(33), `#${'/0'.repeat(32)}`, 'too_deep'],
    ['nesting of 100,000', nested(100_000), `#${'/0'.repeat(32)}`, 'too_deep'],
    ['nesting of 100,000 objects', nested(100_000, '{"a":', '}'), `#${'/a'.repeat(32)}`, 'too_deep'],
    ['an array of 1,001 in a place for few', JSON.stringify({ a: Array(1001).fill(0) }), '#/a', 'too_many'],
    [
      '50,001 values',
      JSON.stringify(Array.from({ length: 51 }, () => new Array<number>(1000).fill(0))),
      '#',
      'too_many',
    ],
  ]
  it.each(refused)('refuses %s and points at it', (_what, body, pointer, code) => {
    expect(faultsOf(body)).toContainEqual({ pointer, code })
  })

  it('accepts nesting of 32', () => {
    expect(faultsOf(nested(32))).toEqual([])
  })

  it('accepts a pair of surrogates, an escaped quote before a bracket, and a constructor that is no prototype', () => {
    const text = '{"a": "\\ud83d\\ude00", "b": "\\"[{\\\\", "constructor": "Acme", "c": -0}'
    expect(parseStrictJson(utf8(text))).toEqual({ ok: true, value: JSON.parse(text) as unknown })
  })

  it('says line and column of a syntax error and nothing of the content', () => {
    const parsed = parseStrictJson(utf8('{"name": "Secret",\n  "x" 1}'))
    expect(parsed).toMatchObject({ ok: false, faults: [{ message: 'The body is not JSON: line 2, column 7.' }] })
    expect(JSON.stringify(parsed)).not.toContain('Secret')
  })

  it('reports every fault of one body', () => {
    expect(faultsOf('{"a": 1e999, "b": "\\u0000", "b": 2}').map(({ code }) => code)).toEqual([
      'duplicate_key',
      'out_of_range',
    ])
    expect(faultsOf('{"a": 1e999, "b": "\\u0000"}').map(({ code }) => code)).toEqual(['out_of_range', 'nul_character'])
  })

  it('lists 100 faults at most', () => {
    expect(faultsOf(JSON.stringify(Array.from({ length: 300 }, () => '\0')))).toHaveLength(100)
  })

  it('lets an array of numbers be long only where samples belong', () => {
    const limits = { ...DEFAULT_JSON_LIMITS, isSampleArray: (path: readonly unknown[]) => path.at(-1) === 'values' }
    const text = JSON.stringify({ values: Array(60_000).fill(1) })
    expect(parseStrictJson(utf8(text), limits).ok).toBe(true)
    expect(parseStrictJson(utf8(text)).ok).toBe(false)
    const words = JSON.stringify({ values: Array(60_000).fill('x') })
    expect(parseStrictJson(utf8(words), limits)).toMatchObject({ faults: [{ code: 'too_many' }] })
  })

  it('gives what JSON.parse gives on any JSON without repeated keys', () => {
    fc.assert(
      fc.property(fc.json({ maxDepth: 6 }), (text) => {
        const parsed = parseStrictJson(utf8(text))
        if (parsed.ok) expect(parsed.value).toEqual(JSON.parse(text))
        else expect(parsed.faults.every(({ code }) => code === 'forbidden_key' || code === 'lone_surrogate')).toBe(true)
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })

  it('finds a repeated key exactly where an independent scanner finds one', () => {
    const key = fc.constantFrom('a', 'b', '\\u0061', 'c"'.replace('"', '\\"'), '{', ',')
    const tree: fc.Arbitrary<string> = fc.letrec<{ node: string }>((tie) => ({
      node: fc.oneof(
        { depthSize: 'small', withCrossShrink: true },
        fc.constantFrom('1', '"x,{"', 'null', '"\\\\"'),
        fc.array(tie('node'), { maxLength: 3 }).map((items) => `[${items.join(',')}]`),
        fc
          .array(fc.tuple(key, tie('node')), { maxLength: 4 })
          .map((members) => `{${members.map(([name, value]) => `"${name}":${value}`).join(', ')}}`),
      ),
    })).node
    fc.assert(
      fc.property(tree, (text) => {
        const keys: Set<string>[] = []
        let expected = 0
        jsonc.visit(text, {
          onObjectBegin: () => void keys.push(new Set()),
          onObjectEnd: () => void keys.pop(),
          onObjectProperty: (property) => {
            if (keys.at(-1)?.has(property)) expected++
            keys.at(-1)?.add(property)
          },
        })
        expect(faultsOf(text).filter(({ code }) => code === 'duplicate_key')).toHaveLength(Math.min(expected, 100))
      }),
      { seed: 20261125, numRuns: 2000 },
    )
  })

  it('refuses whatever an independent parser refuses as poisoned', () => {
    const key = fc.constantFrom('__proto__', 'constructor', 'prototype', '\\u005f_proto__', 'x')
    const document = fc.tuple(key, key, key).map(([a, b, c]) => `{"${a}": {"${b}": {"${c}": 1}}}`)
    fc.assert(
      fc.property(document, (text) => {
        let poisoned = false
        try {
          secureParse(text)
        } catch {
          poisoned = true
        }
        expect(faultsOf(text).some(({ code }) => code === 'forbidden_key')).toBe(poisoned)
      }),
      { seed: 20261125, numRuns: 200 },
    )
  })
})
