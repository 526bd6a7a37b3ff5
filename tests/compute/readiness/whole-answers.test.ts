import { describe, expect, it } from 'vitest'
import { evaluateCriteriaSet } from '../../../src/compute/readiness/index.ts'
import type {
  Criterion,
  Evidence,
  EvaluationContext,
  PreInjuryReference,
  StrengthEvidence,
} from '../../../src/compute/readiness/index.ts'
import { AT, CONTEXT, functional, limb, publishedSet, strength } from './made-up-subject.ts'

/** One criterion of each kind with its whole answer: value or reason, evidence, age, and what is to be done about a gap. */
const NONE: Evidence = { strength: [], functional: [], questionnaires: [], observations: [], preInjury: [] }

function ask(criterion: Criterion, evidence: Partial<Evidence>, context: Partial<EvaluationContext> = {}) {
  const set = { ...publishedSet('kyritsis-2016'), criteria: [criterion] }
  const { criteria, toAssess, expiresOn } = evaluateCriteriaSet(
    set,
    { ...NONE, ...evidence },
    { ...CONTEXT, ...context },
  )
  const { verdict, reason, observed, evidence: used, age } = criteria[0]!
  return {
    verdict,
    reason,
    value: typeof observed === 'object' && observed !== null ? observed.value : observed,
    used,
    age: age?.value ?? null,
    needs: toAssess[0]?.needs ?? null,
    expiresOn,
  }
}

const compared = { comparator: '>=', threshold: { value: 50, unit: '%' }, maximumAgeDays: 28 } as const
const series = (movement: 'extension' | 'flexion') => ({
  movement,
  contractionMode: 'isokinetic_concentric' as const,
  velocityDegS: 60,
  measure: 'peakTorque',
  statistic: 'best',
})
const result = (resultId: string, measure = 'peakTorque') => ({ resultId, measure, statistic: 'best' })

describe('a strength ratio', () => {
  const ratio: Criterion = {
    ...compared,
    kind: 'strength_ratio',
    key: 'ratio',
    measure: 'ratio',
    numerator: series('flexion'),
    denominator: series('extension'),
  }
  const top = (more: Partial<StrengthEvidence> = {}) =>
    strength(0, 0, { movement: 'flexion', left: null, right: limb(110, 'flexion'), ...more })
  const bottom = (more: Partial<StrengthEvidence> = {}) =>
    strength(0, 0, { left: null, right: limb(200, 'extension'), ...more })
  const needs =
    'a strength test of flexion at 60 deg/s and a strength test of extension at 60 deg/s of the involved limb in one session, gravity-corrected'

  it('divides the involved limb’s torques of one session and cites both', () => {
    expect(ask(ratio, { strength: [top(), bottom()] })).toEqual({
      verdict: 'met',
      reason: null,
      value: 55,
      used: [result('flexion'), result('extension')],
      age: 3,
      needs: null,
      expiresOn: '2026-12-16',
    })
  })

  it('is as old as its older part where the session ran past midnight', () => {
    const late = { performedAt: '2026-11-17T23:50:00+01:00' }
    const early = { performedAt: '2026-11-18T00:10:00+01:00' }
    expect(ask(ratio, { strength: [top(late), bottom(early)] }).age).toBe(3)
    expect(ask(ratio, { strength: [top(early), bottom(late)] }).age).toBe(3)
  })

  it('is missing where either test is, and asks for both', () => {
    const missing = {
      verdict: 'not_assessable',
      reason: 'missing',
      value: null,
      used: [],
      age: null,
      needs,
      expiresOn: null,
    }
    expect(ask(ratio, { strength: [top()] })).toEqual(missing)
    expect(ask(ratio, { strength: [bottom()] })).toEqual(missing)
  })

  it.each([
    ['involved_limb_missing', { right: null, left: limb(100, 'other') }, {}, ['extension']],
    ['involved_limb_missing', {}, { right: null, left: limb(100, 'other') }, ['flexion']],
    [
      'not_gravity_corrected',
      { right: limb(110, 'flexion', { gravityCorrected: 'no' }) },
      {},
      ['flexion', 'extension'],
    ],
    [
      'not_gravity_corrected',
      {},
      { right: limb(200, 'extension', { gravityCorrected: 'no' }) },
      ['flexion', 'extension'],
    ],
    ['no_usable_denominator', {}, { right: limb(0, 'extension') }, ['flexion', 'extension']],
    ['no_usable_denominator', { right: limb(-5, 'flexion') }, {}, ['flexion', 'extension']],
    ['standing_unknown', {}, { right: limb(200, 'extension', { standing: '' }) }, ['flexion', 'extension']],
    ['impossible_value', {}, { right: limb(1e13, 'extension') }, ['flexion', 'extension']],
  ] as [string, Partial<StrengthEvidence>, Partial<StrengthEvidence>, string[]][])(
    'is not assessable: %s (%#)',
    (reason, above, below, cited) => {
      expect(ask(ratio, { strength: [top(above), bottom(below)] })).toMatchObject({
        verdict: 'not_assessable',
        reason,
        value: null,
        used: cited.map((id) => result(id)),
        age: 3,
        expiresOn: null,
      })
    },
  )
})

describe('torque per body mass', () => {
  const perMass: Criterion = {
    kind: 'normalised_torque',
    key: 'per-mass',
    measure: 'peakTorquePerBodyMass',
    series: { ...series('extension'), measure: 'peakTorquePerBodyMass' },
    comparator: '>',
    threshold: { value: 3, unit: 'N.m/kg' },
    maximumAgeDays: 28,
  }
  const of = (right: StrengthEvidence['right']) =>
    ask(perMass, { strength: [strength(0, 0, { measure: 'peakTorquePerBodyMass', left: limb(3, 'other'), right })] })
  const perKilogram = (value: number) => ({ outcome: { value, unit: 'N.m/kg' } })

  it('is of the involved limb, and cites it alone', () => {
    expect(of(limb(0, 'right', perKilogram(3.2)))).toMatchObject({
      verdict: 'met',
      value: 3.2,
      used: [result('right', 'peakTorquePerBodyMass')],
      age: 3,
    })
    expect(of(limb(0, 'right', perKilogram(3)))).toMatchObject({ verdict: 'not_met', value: 3 })
  })

  it('says what is missing: the limb, its mass, a usable value', () => {
    const needs = 'a strength test of extension at 60 deg/s of the involved limb, with the body mass of that day'
    expect(ask(perMass, {})).toMatchObject({ reason: 'missing', needs })
    expect(of(null)).toMatchObject({
      reason: 'involved_limb_missing',
      used: [],
      needs: `${needs}: the involved limb was not tested in the latest session`,
    })
    const held = of(limb(0, 'right', { ...perKilogram(3.2), standing: 'possible_unit_error' }))
    expect(held).toMatchObject({ reason: 'possible_unit_error', value: null })
    expect(held.needs).toBe("a clinician's resolution of the flag on the unit")
    expect(of(limb(3.2, 'right'))).toMatchObject({ reason: 'unit_differs' })
  })
})

describe('symmetry of strength', () => {
  const symmetry = (expression: 'symmetry' | 'pre_injury_capacity', velocityDegS: number | null = 60): Criterion => ({
    ...compared,
    kind: 'strength_symmetry',
    key: 'symmetry',
    measure: 'symmetry',
    expression,
    series: { ...series('extension'), velocityDegS },
    comparabilityNeeded: 'comparable_with_caution',
  })
  const before = (value: number, resultId: string): PreInjuryReference => ({
    resultId,
    side: 'left',
    of: series('extension'),
    outcome: { value, unit: 'N.m' },
    standing: 'in_force',
    comparability: 'comparable',
  })

  it('says what is to be tested, of which limb and how fast', () => {
    const both =
      'a strength test of extension at 60 deg/s of both limbs in one session, with setups that may be compared'
    expect(ask(symmetry('symmetry'), {})).toMatchObject({ reason: 'missing', needs: both })
    expect(ask(symmetry('symmetry', null), {}).needs).toBe(both.replace(' at 60 deg/s', ''))
    expect(ask(symmetry('pre_injury_capacity'), {}).needs).toBe(
      'a strength test of extension at 60 deg/s of the involved limb',
    )
    expect(ask(symmetry('symmetry'), { strength: [strength(200, 0, { right: null })] })).toMatchObject({
      reason: 'involved_limb_missing',
      needs: `${both}: the involved limb was not tested in the latest session`,
    })
    expect(ask(symmetry('symmetry'), { strength: [strength(0, 190, { left: null })] })).toMatchObject({
      reason: 'other_limb_missing',
      needs: `${both}: the other limb was not tested in the latest session`,
    })
    const old = strength(200, 190, { performedAt: '2026-10-01T09:00:00+02:00' })
    expect(ask(symmetry('symmetry'), { strength: [old] })).toMatchObject({
      reason: 'stale',
      needs: `${both}, again: the last one is older than 28 days`,
    })
    const aborted = strength(200, 0, { right: limb(0, 'r', { outcome: { value: null, reason: 'aborted' } }) })
    expect(ask(symmetry('symmetry'), { strength: [aborted] })).toMatchObject({
      reason: 'aborted',
      needs: `${both}, again: the latest attempt gave no usable value (aborted)`,
    })
    const unsaid = strength(200, 0, { right: limb(0, 'r', { outcome: { value: null, reason: '' } }) })
    expect(ask(symmetry('symmetry'), { strength: [unsaid] })).toMatchObject({ reason: 'no_value', needs: both })
  })

  it('of before the injury cites the limb now and the strongest one then, the first of equals', () => {
    const evidence = {
      strength: [strength(200, 190)],
      preInjury: [before(210, 'a'), before(230, 'b'), before(230, 'c')],
    }
    const answer = ask(symmetry('pre_injury_capacity'), evidence)
    expect(answer.value).toBeCloseTo(82.6087, 4)
    expect(answer.used).toEqual([result('result-right'), result('b')])
    expect(ask(symmetry('pre_injury_capacity'), { strength: [strength(200, 0, { right: null })] })).toMatchObject({
      reason: 'involved_limb_missing',
      used: [],
    })
    const zero = { ...evidence, preInjury: [before(0, 'a')] }
    expect(ask(symmetry('pre_injury_capacity'), zero)).toMatchObject({
      reason: 'no_usable_denominator',
      used: [result('result-right')],
    })
  })
})

describe('a functional test', () => {
  const hop = (expression: 'symmetry' | 'pre_injury_capacity'): Criterion => ({
    ...compared,
    kind: 'functional_symmetry',
    key: 'hop',
    measure: 'hop',
    expression,
    test: 'single_hop_distance',
    betterWhen: 'higher',
  })
  const left = functional('single_hop_distance', 'left', 150)
  const right = functional('single_hop_distance', 'right', 120)
  const id = (functionalResultId: string) => ({ functionalResultId })
  const before = (test: string, value: number): PreInjuryReference => ({
    resultId: `before-${test}`,
    side: 'left',
    of: { test },
    outcome: { value, unit: 'cm' },
    standing: 'in_force',
    comparability: null,
  })

  it('compares both limbs, or the involved one with the other one before', () => {
    expect(ask(hop('symmetry'), { functional: [left, right] })).toEqual({
      verdict: 'met',
      reason: null,
      value: 80,
      used: [id('single_hop_distance-right'), id('single_hop_distance-left')],
      age: 3,
      needs: null,
      expiresOn: '2026-12-16',
    })
    const preInjury = [before('triple_hop_distance', 500), before('single_hop_distance', 160)]
    expect(ask(hop('pre_injury_capacity'), { functional: [left, right], preInjury })).toMatchObject({
      value: 75,
      used: [id('single_hop_distance-right'), id('before-single_hop_distance')],
    })
    expect(ask(hop('pre_injury_capacity'), { functional: [left, right] })).toMatchObject({
      reason: 'no_pre_injury_test',
      value: null,
      used: [id('single_hop_distance-right')],
    })
  })

  it('says what is missing', () => {
    const needs = 'single hop distance of both limbs in one session'
    expect(ask(hop('symmetry'), {})).toMatchObject({ reason: 'missing', needs, age: null })
    const nothing = functional('single_hop_distance', 'left', 0)
    expect(ask(hop('symmetry'), { functional: [nothing, right] })).toMatchObject({
      reason: 'no_usable_denominator',
      age: 3,
    })
    const refused = { ...left, outcome: { value: null, reason: 'refused_by_subject' } as const }
    expect(ask(hop('symmetry'), { functional: [refused, right] })).toMatchObject({
      reason: 'refused_by_subject',
      used: [id('single_hop_distance-right'), id('single_hop_distance-left')],
    })
  })

  it('by itself is of the involved limb or of none', () => {
    const alone = (limbOf: 'involved' | 'none'): Criterion => ({
      kind: 'functional_value',
      key: 'alone',
      measure: 'alone',
      test: 'single_hop_distance',
      limb: limbOf,
      comparator: '>=',
      threshold: { value: 1, unit: 'm' },
      maximumAgeDays: 28,
    })
    expect(ask(alone('involved'), { functional: [left, right] })).toMatchObject({
      verdict: 'met',
      value: 1.2,
      used: [id('single_hop_distance-right')],
      age: 3,
    })
    expect(ask(alone('none'), { functional: [left, right] })).toMatchObject({
      reason: 'missing',
      needs: 'single hop distance',
    })
    expect(ask(alone('involved'), {})).toMatchObject({
      reason: 'missing',
      needs: 'single hop distance of the involved limb',
    })
    expect(ask(alone('involved'), { functional: [right] }, { involvedSide: null })).toMatchObject({
      reason: 'involved_side_unknown',
      needs: 'the involved side, recorded in the episode',
    })
  })
})

describe('a questionnaire', () => {
  const total: Criterion = {
    kind: 'questionnaire_total',
    key: 'total',
    measure: 'total',
    questionnaire: 'acl_rsi',
    formVersions: ['12_items'],
    comparator: '>',
    threshold: { value: 56, unit: '{score}' },
    maximumAgeDays: 28,
  }
  const form = (formVersion: string | null, functionalResultId = 'q', performedAt = AT) => ({
    functionalResultId,
    performedAt,
    questionnaire: 'acl_rsi',
    formVersion,
    outcome: { value: 60, unit: '{score}' },
    standing: 'in_force',
  })

  it('is read where its form is the one asked for, and cited', () => {
    expect(ask(total, { questionnaires: [form('12_items')] })).toMatchObject({
      verdict: 'met',
      value: 60,
      used: [{ functionalResultId: 'q' }],
      age: 3,
    })
    expect(ask(total, {})).toMatchObject({ reason: 'missing', needs: 'a total of the questionnaire acl_rsi' })
  })

  it('of two at one instant is read only where both forms are the one asked for', () => {
    const pair = (one: string | null, other: string | null) =>
      ask(total, { questionnaires: [form(one, 'a'), form(other, 'b')] })
    expect(pair('12_items', '12_items').verdict).toBe('met')
    expect(pair('12_items', 'short').reason).toBe('form_version_differs')
    expect(pair('12_items', null)).toMatchObject({
      reason: 'form_version_unknown',
      needs: 'the version of the form, recorded',
    })
  })

  it('gives its own reason before that of its form', () => {
    const unanswered = { ...form('short'), outcome: { value: null, reason: 'not_answered' } as const }
    expect(ask(total, { questionnaires: [unanswered] })).toMatchObject({
      reason: 'not_answered',
      needs: 'a total of the questionnaire acl_rsi',
    })
  })

  it('is as old as the older of two dates that name one instant', () => {
    const [here, there] = ['2026-11-18T00:30:00+01:00', '2026-11-17T23:30:00+00:00']
    expect(ask(total, { questionnaires: [form('12_items', 'a', here), form('12_items', 'b', there)] })).toMatchObject({
      age: 3,
      used: [{ functionalResultId: 'a' }, { functionalResultId: 'b' }],
    })
  })
})

describe('an observation', () => {
  const done: Criterion = {
    kind: 'clinician_observation',
    key: 'done',
    measure: 'done',
    comparator: 'is',
    threshold: 'completed',
    observation: 'on_field_rehabilitation',
    needs: 'a look at it',
    maximumAgeDays: null,
  }
  const seen = (finding: string | null, observationId = 'o', performedAt = AT) => ({
    observationId,
    performedAt,
    observation: 'on_field_rehabilitation',
    finding,
    standing: 'in_force',
  })

  it('is its word, cited, and never runs out without a maximum age', () => {
    expect(ask(done, { observations: [seen('completed')] })).toEqual({
      verdict: 'met',
      reason: null,
      value: 'completed',
      used: [{ observationId: 'o' }],
      age: 3,
      needs: null,
      expiresOn: null,
    })
    expect(ask(done, { observations: [seen('not_completed')] })).toMatchObject({ verdict: 'not_met' })
  })

  it('without a word, or with two, is not assessable', () => {
    for (const word of [null, '']) {
      expect(ask(done, { observations: [seen(word)] })).toMatchObject({ reason: 'not_answered', needs: 'a look at it' })
    }
    expect(ask(done, { observations: [seen('completed', 'a'), seen('not_completed', 'b')] })).toMatchObject({
      reason: 'contradicting_values',
      used: [{ observationId: 'a' }, { observationId: 'b' }],
    })
  })

  it('is as old as the older of two dates that name one instant', () => {
    const [here, there] = ['2026-11-18T00:30:00+01:00', '2026-11-17T23:30:00+00:00']
    const observations = [seen('completed', 'a', here), seen('completed', 'b', there)]
    expect(ask(done, { observations }).age).toBe(3)
  })
})

describe('time since the operation', () => {
  const since = (unit: string, value: number): Criterion => ({
    kind: 'time_since_surgery',
    key: 'since',
    measure: 'since',
    comparator: '>=',
    threshold: { value, unit },
    maximumAgeDays: null,
  })
  const value = (unit: string, surgeryOn: string, on = '2026-11-20') => ask(since(unit, 0), {}, { surgeryOn, on }).value

  it('counts calendar months and their begun part, over the turn of years', () => {
    expect(value('mo', '2026-02-20')).toBe(9)
    expect(value('mo', '2026-02-21')).toBeCloseTo(8 + 30 / 31, 12)
    expect(value('mo', '2026-02-10')).toBeCloseTo(9 + 10 / 30, 12)
    expect(value('mo', '2024-11-20')).toBe(24)
    expect(value('mo', '2024-12-25')).toBeCloseTo(22 + 26 / 31, 12)
    expect(value('a', '2024-11-20')).toBe(2)
    expect(value('a', '2025-05-20')).toBe(1.5)
    // The 31st of a month that has none is its last day.
    expect(value('mo', '2026-01-31', '2026-02-28')).toBe(1)
    expect(value('mo', '2026-08-31', '2026-09-30')).toBe(1)
  })

  it('counts days and weeks, from nought on the day itself', () => {
    expect(value('d', '2026-11-20')).toBe(0)
    expect(value('wk', '2026-11-06')).toBe(2)
    expect(ask(since('wk', 0), {}, { surgeryOn: '2026-11-21' })).toMatchObject({
      reason: 'before_surgery',
      needs: 'a date after the operation',
    })
    expect(ask(since('wk', 0), {}, { surgeryOn: null })).toMatchObject({
      reason: 'no_surgery_date',
      needs: 'the date of the operation, recorded in the episode',
    })
  })

  it('wants dates and instants written in full', () => {
    for (const surgeryOn of ['2026-02-30', 'x2026-02-10', '2026-02-10T00:00', '', '10.02.2026']) {
      expect(() => value('d', surgeryOn), surgeryOn).toThrow('is not a date of the form YYYY-MM-DD')
    }
    for (const performedAt of [
      '2026-11-17T09:05:00',
      '2026-11-17',
      'x2026-11-17T09:05:00+01:00',
      '2026-11-17T09:05:00+01:00x',
    ]) {
      const questionnaires = [
        {
          functionalResultId: 'q',
          performedAt,
          questionnaire: 'kos_adls',
          formVersion: null,
          outcome: { value: 90, unit: '{score}' },
          standing: 'in_force',
        },
      ]
      const criterion = publishedSet('grindem-2020').criteria.find(({ key }) => key === 'kos-adls')!
      expect(() => ask(criterion, { questionnaires }), performedAt).toThrow(RangeError)
    }
  })
})
