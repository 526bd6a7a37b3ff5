import { describe, expect, it } from 'vitest'
import { wordsInNoList } from './answered-words.ts'

describe('the check of every answer against the code lists', () => {
  it.each([
    ['a reason beside a value', { peak: { value: null, unit: 'N.m', reason: 'made_up' } }, '#/peak/reason'],
    ['a reason beside a verdict', [{ verdict: 'unknown', reason: 'made_up' }], '#/0/reason'],
    [
      'a repetition that does not count',
      { notCounted: [{ repetition: 2, reason: 'made_up' }] },
      '#/notCounted/0/reason',
    ],
    ['an error model that is none', { errorModel: { kind: 'none', reason: 'made_up' } }, '#/errorModel/reason'],
    ['a reason all alone', { correlations: { reason: 'made_up' } }, '#/correlations/reason'],
    ['why there is no interval', { value: 93, unit: '%', intervalReason: 'made_up' }, '#/intervalReason'],
    ['a flag', { items: [{ code: 'made_up', level: 'hold' }] }, '#/items/0/code'],
    ['a flag of a repetition', { flags: ['made_up'] }, '#/flags/0'],
    ['a caution', { cautions: ['comparable_with_caution', 'made_up'] }, '#/cautions/1'],
    ['a note on a criterion', { observed: null, notes: ['made_up'] }, '#/notes/0'],
    ['a warning', { warnings: [{ code: 'made_up', message: '' }] }, '#/warnings'],
  ])('notices %s', (_what, answer, at) => {
    expect(wordsInNoList(answer)).toEqual([`${at}: "made_up" is in no code list`])
  })

  it('lets listed words and the texts of people be', () => {
    const answer = {
      measures: { peakTorque: { best: { value: null, unit: 'N.m', reason: 'possible_side_swap' } } },
      flags: [
        { code: 'possible_side_swap', level: 'hold', resolution: { by: null, at: '', reason: 'Asked the tester.' } },
      ],
      notCounted: [{ repetition: 1, reason: 'aborted' }],
      version: { version: 2, kind: 'amended', reason: 'A slip of the keyboard.' },
      withdrawal: { at: '', reason: 'Wrong subject.' },
      deviations: [{ of: 'seat', reason: 'pain_or_discomfort' }],
      criterion: { verdict: 'met', reason: null, observed: { value: 1, unit: '1' }, notes: [] },
      notes: ['Two tests disagree.'],
      cautions: [],
    }
    expect(wordsInNoList(answer)).toEqual([])
  })
})
