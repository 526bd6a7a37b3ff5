import { readdirSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { REPETITION_REASONS, type CodeEntry } from '../../src/domain/code-lists.ts'
import { FLAG_CODES, SETUP_WARNING_CODES } from '../../src/domain/flag-lists.ts'
import { CAUTION_CODES, REASON_CODES } from '../../src/domain/reason-lists.ts'
import { codeWordsIn, type CodeWordKind, type SourceText } from './code-words-in-source.ts'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))

const LISTS: Readonly<Record<CodeWordKind, readonly CodeEntry[]>> = {
  flag: FLAG_CODES,
  reason: REASON_CODES,
  refusal: [...FLAG_CODES, ...REASON_CODES],
  caution: CAUTION_CODES,
  warning: SETUP_WARNING_CODES,
}

const words = codeWordsIn(['src/compute', 'src/application', 'src/ledger'].flatMap(sourcesUnder))

function sourcesUnder(folder: string): SourceText[] {
  return readdirSync(`${ROOT}/${folder}`, { recursive: true, encoding: 'utf8' })
    .filter((path) => path.endsWith('.ts'))
    .map((path) => ({ path: `${folder}/${path}`, text: readFileSync(`${ROOT}/${folder}/${path}`, 'utf8') }))
}

describe('the lists of flags, reasons, cautions and setup warnings', () => {
  it('have every code word that the source can answer with', () => {
    const listed = (kind: CodeWordKind, word: string) => LISTS[kind].some(({ code }) => code === word)
    expect(words.filter(({ kind, word }) => !listed(kind, word))).toEqual([])
  })

  it('have no word that the source cannot answer with', () => {
    const said = new Set(words.map(({ word }) => word))
    // Sent with a repetition, and a verdict on comparability that is passed on as the reason.
    const passedOn = new Set([...REPETITION_REASONS.map(({ code }) => code), 'not_assessable'])
    const listed = new Set(Object.values(LISTS).flatMap((list) => list.map(({ code }) => code)))
    expect([...listed].filter((code) => !said.has(code) && !passedOn.has(code))).toEqual([])
  })

  it('name each flag by a level that the source gives it', () => {
    const given = Map.groupBy(
      words.filter(({ kind, levels }) => kind === 'flag' && levels.length > 0),
      ({ word }) => word,
    )
    const wrong = FLAG_CODES.filter(({ code, usualLevel }) => {
      const levels = given.get(code)?.flatMap((word) => word.levels) ?? []
      return levels.length > 0 && !levels.includes(usualLevel)
    })
    expect(wrong).toEqual([])
    expect(given.size).toBeGreaterThan(40)
  })

  it.each([
    ['flags', FLAG_CODES],
    ['reasons', REASON_CODES],
    ['cautions', CAUTION_CODES],
    ['setup warnings', SETUP_WARNING_CODES],
  ])('hold each of the %s once, with a short label that decides nothing', (_name, list: readonly CodeEntry[]) => {
    const codes = list.map(({ code }) => code)
    expect(codes).toEqual([...new Set(codes)])
    for (const { code, label } of list) {
      expect(code).toMatch(/^[a-z][a-z0-9]*(_[a-z0-9]+)*$/)
      expect(label).toMatch(/^[A-Z].{2,90}[^.\s]$/)
      expect(label).not.toMatch(/\b(cleared|safe|fit|ready|passed|failed|OK|normal|healed)\b/i)
    }
  })
})

describe('the search for code words in the source', () => {
  const found = (text: string) =>
    codeWordsIn([{ path: 'planted.ts', text }]).map(({ kind, word, levels }) => [kind, word, ...levels])

  // Each place that the source says a code word in; a search blind to one of them would never fail.
  it.each<readonly [string, string, readonly string[][]]>([
    ['a property', `f({ value: null, reason: 'one_word' })`, [['reason', 'one_word']]],
    ['a property with a condition', `f({ reason: x === 'no' ? 'a_b' : null })`, [['reason', 'a_b']]],
    ['a fallback', `f({ intervalReason: given ?? 'missing' })`, [['reason', 'missing']]],
    ['a refusal', `f({ refused: 'a_b' })`, [['refusal', 'a_b']]],
    ['a constant', `const why = 'a_b'; f({ reason: why })`, [['reason', 'a_b']]],
    [
      'a variable',
      `const reason = bad ? 'a_b' : 'c_d'`,
      [
        ['reason', 'a_b'],
        ['reason', 'c_d'],
      ],
    ],
    ['a typed variable', `let found: ReasonCode = 'a_b'`, [['reason', 'a_b']]],
    ['an argument', `const none = (r: ReasonCode) => r; none('a_b')`, [['reason', 'a_b']]],
    ['an argument of a declared function', `none('a_b'); function none(reason: string) {}`, [['reason', 'a_b']]],
    [
      'a member of a union',
      `interface A { reason: 'a_b' | 'c_d' | null }`,
      [
        ['reason', 'a_b'],
        ['reason', 'c_d'],
      ],
    ],
    ['a return', `function whyNot(): ReasonCode | null { return x ? 'a_b' : null }`, [['reason', 'a_b']]],
    [
      'a return beside numbers',
      `function of(): number | string { if (x) return 'a_b'; return 1 }`,
      [['reason', 'a_b']],
    ],
    ['a flag', `f({ code: 'a_b', level: bad ? 'hold' : 'note' })`, [['flag', 'a_b', 'hold', 'note']]],
    ['a flag said', `const say = (code: string, level: string) => 0; say('a_b', 'note')`, [['flag', 'a_b', 'note']]],
    ['a flag of a repetition', `const flags: string[] = []; flags.push('a_b')`, [['flag', 'a_b']]],
    ['cautions', `f({ cautions: [...more, ...(x ? ['a_b'] : [])] })`, [['caution', 'a_b']]],
    ['a caution gathered', `const over: ReasonCode[] = []; over.push('a_b')`, [['caution', 'a_b']]],
    ['notes', `function limbNotes() { return ['a_b'] }`, [['caution', 'a_b']]],
    ['a warning', `const w = (code: string): Warning => code; w('old')`, [['warning', 'old']]],
    ['a sentence', `f({ reason: 'The limb moved.' })`, []],
    ['a fault of a document', `f({ pointer: '#', code: 'out_of_range', message: '' })`, []],
  ])('sees %s', (_place, text, expected) => {
    expect(found(text)).toEqual(expected)
  })

  it('knows a function that gives reasons in other files too', () => {
    const helper = { path: 'helper.ts', text: `export function missing(reason: ReasonCode) {}` }
    const caller = { path: 'caller.ts', text: `missing('a_b')` }
    expect(codeWordsIn([caller, helper])).toMatchObject([{ word: 'a_b', kind: 'reason', at: 'caller.ts:1' }])
  })
})
