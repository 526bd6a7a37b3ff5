import { describe, expect, it } from 'vitest'
import {
  checkCriteriaSet,
  evaluateCriteriaSet,
  ikdcTotal,
  ikdcTotalOfAnswered,
  inReadingOrder,
  kosAdlsTotal,
} from '../../../src/compute/readiness/index.ts'
import type {
  CriteriaSet,
  Criterion,
  CriterionAnswer,
  Evidence,
  EvaluationContext,
  PreInjuryReference,
  StrengthEvidence,
} from '../../../src/compute/readiness/index.ts'
import { AT, CONTEXT, functional, limb, publishedSet, strength } from './made-up-subject.ts'

/** Which of several pieces of evidence decides, and where exactly one stops to count. */
const NONE: Evidence = { strength: [], functional: [], questionnaires: [], observations: [], preInjury: [] }
const setOf = (...criteria: readonly Criterion[]): CriteriaSet => ({ ...publishedSet('kyritsis-2016'), criteria })
const ask = (
  criterion: Criterion,
  evidence: Partial<Evidence>,
  context: Partial<EvaluationContext> = {},
): CriterionAnswer =>
  evaluateCriteriaSet(setOf(criterion), { ...NONE, ...evidence }, { ...CONTEXT, ...context }).criteria[0]!
const valueOf = (answer: CriterionAnswer) => (answer.observed as { value: number } | null)?.value ?? null

const percent = (value: number) => ({ comparator: '>=', threshold: { value, unit: '%' }, maximumAgeDays: 28 }) as const
type StrengthSeriesOf = Extract<PreInjuryReference['of'], { readonly movement: unknown }>
const EXTENSION: StrengthSeriesOf = {
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  velocityDegS: 60,
  measure: 'peakTorque',
  statistic: 'best',
}
const symmetry = (
  expression: 'symmetry' | 'deficit' | 'pre_injury_capacity' = 'symmetry',
  velocityDegS: number | null = 60,
): Criterion => ({
  ...percent(90),
  kind: 'strength_symmetry',
  key: 'symmetry',
  measure: 'symmetry',
  expression,
  series: { ...EXTENSION, velocityDegS },
  comparabilityNeeded: 'comparable_with_caution',
})

describe('the test of the other limb from before', () => {
  const reference = (
    change: Partial<PreInjuryReference> = {},
    of: Partial<StrengthSeriesOf> | { readonly test: string } = {},
  ): PreInjuryReference => ({
    resultId: 'before',
    side: 'left',
    of: 'test' in of ? of : { ...EXTENSION, ...of },
    outcome: { value: 200, unit: 'N.m' },
    standing: 'in_force',
    comparability: 'comparable',
    ...change,
  })
  const capacity = (...preInjury: readonly PreInjuryReference[]) =>
    ask(symmetry('pre_injury_capacity'), { strength: [strength(190, 190)], preInjury })

  it('stands for this very test and limb, and for no other', () => {
    expect(valueOf(capacity(reference()))).toBe(95)
    for (const [what, other] of [
      ['side', reference({ side: 'right' })],
      ['movement', reference({}, { movement: 'flexion' })],
      ['mode', reference({}, { contractionMode: 'isokinetic_eccentric' })],
      ['velocity', reference({}, { velocityDegS: 180 })],
      ['measure', reference({}, { measure: 'workPerRepetition' })],
      ['statistic', reference({}, { statistic: 'mean' })],
      ['kind', reference({}, { test: 'single_hop_distance' })],
    ] as const) {
      expect(capacity(other), what).toMatchObject({ reason: 'no_pre_injury_test', observed: null })
      expect(valueOf(capacity(other, reference())), what).toBe(95)
    }
    expect(valueOf(capacity(reference({}, { velocityDegS: 60.5 })))).toBe(95)
    expect(capacity(reference({}, { velocityDegS: 60.6 })).reason).toBe('no_pre_injury_test')
  })

  it('blocks where it is held, gave nothing, or may not be compared, even beside a sound one', () => {
    const sound = reference()
    expect(capacity(reference({ standing: 'entered_in_error' }), sound).reason).toBe('entered_in_error')
    expect(capacity(reference({ standing: '' }), sound).reason).toBe('standing_unknown')
    expect(capacity(reference({ outcome: { value: null, reason: 'aborted' } }), sound).reason).toBe('aborted')
    expect(capacity(reference({ outcome: { value: 200, unit: 'J' } }), sound).reason).toBe('unit_differs')
    for (const [comparability, reason] of [
      ['not_comparable', 'not_comparable'],
      ['not_assessable', 'comparability_not_assessable'],
      [null, 'comparability_unknown'],
    ] as const) {
      expect(capacity(reference({ comparability }))).toMatchObject({ reason, comparability })
    }
    expect(capacity(reference({ comparability: 'comparable_with_caution' }))).toMatchObject({
      verdict: 'met',
      comparability: 'comparable_with_caution',
    })
  })

  it('of a functional test is that of the other limb too', () => {
    const hop: Criterion = {
      ...percent(90),
      kind: 'functional_symmetry',
      key: 'hop',
      measure: 'hop',
      expression: 'pre_injury_capacity',
      test: 'single_hop_distance',
      betterWhen: 'higher',
    }
    const now = { functional: [functional('single_hop_distance', 'right', 150)] }
    const before = (side: 'left' | 'right') =>
      reference({ side, outcome: { value: 160, unit: 'cm' }, comparability: null }, { test: 'single_hop_distance' })
    expect(valueOf(ask(hop, { ...now, preInjury: [before('left')] }))).toBe(93.75)
    expect(ask(hop, { ...now, preInjury: [before('right')] }).reason).toBe('no_pre_injury_test')
    expect(ask(hop, { ...now, preInjury: [reference()] }).reason).toBe('no_pre_injury_test')
  })
})

describe('of several tests of the latest session, where the criterion leaves the test open', () => {
  const open = symmetry('symmetry', null)
  const at = (velocityDegS: number, right: number, more: Partial<StrengthEvidence> = {}) =>
    strength(100, right, { velocityDegS, ...more })
  const held = (velocityDegS: number) =>
    at(velocityDegS, 0, { right: limb(95, 'held', { standing: 'possible_unit_error' }) })

  it('one that is not met governs, then one that cannot be assessed, and a met one only when all are', () => {
    for (const order of [(list: StrengthEvidence[]) => list, (list: StrengthEvidence[]) => list.toReversed()]) {
      expect(ask(open, { strength: order([at(60, 95), held(180), at(240, 80)]) }).verdict).toBe('not_met')
      expect(ask(open, { strength: order([at(60, 95), held(180)]) })).toMatchObject({
        verdict: 'not_assessable',
        reason: 'possible_unit_error',
      })
      expect(valueOf(ask(open, { strength: order([at(60, 97), at(180, 92), at(240, 99)]) }))).toBe(92)
      expect(valueOf(ask(open, { strength: order([at(60, 80), at(180, 70), at(240, 85)]) }))).toBe(70)
    }
  })

  it('the same answer comes out in whatever order two equal ones arrive', () => {
    const pair = [at(60, 95, { right: limb(95, 'a') }), at(180, 95, { right: limb(95, 'b') })]
    expect(ask(open, { strength: pair })).toEqual(ask(open, { strength: pair.toReversed() }))
  })

  it('a later set of one velocity replaces the earlier, however the speed was rounded; another velocity does not', () => {
    const early = { performedAt: '2026-11-17T09:00:00+01:00' }
    expect(valueOf(ask(open, { strength: [at(60, 80, early), at(59.99, 95)] }))).toBe(95)
    expect(valueOf(ask(open, { strength: [at(60, 80, early), at(180, 95)] }))).toBe(80)
  })

  it('a set speed within half a degree per second is the one asked for', () => {
    const fixed = symmetry('symmetry', 60)
    expect(valueOf(ask(fixed, { strength: [at(60.5, 95)] }))).toBe(95)
    expect(ask(fixed, { strength: [at(60.51, 95)] }).reason).toBe('missing')
  })
})

describe('exactly at a limit', () => {
  const hurting = (painDuring: number | null) =>
    ask(symmetry(), { strength: [strength(100, 0, { right: limb(95, 'r', { painDuring }) })] })

  it('pain of 3 counts, above it does not, and a score that is no number was not recorded', () => {
    expect(hurting(3).verdict).toBe('met')
    expect(hurting(3.1).reason).toBe('pain_limited')
    expect(hurting(null).reason).toBe('pain_not_recorded')
    expect(hurting(Number.NaN).reason).toBe('pain_not_recorded')
  })

  it('an interval that touches the threshold spans it', () => {
    const spans = (low: number, high: number) =>
      ask(symmetry(), { strength: [strength(100, 95, { symmetryInterval: { low, high, confidence: 0.95 } })] })
        .intervalSpansThreshold
    expect(spans(85, 100)).toBe(true)
    expect(spans(90, 100)).toBe(true)
    expect(spans(90.1, 100)).toBe(false)
    expect(spans(80, 90)).toBe(true)
    expect(spans(80, 89.9)).toBe(false)
    expect(spans(Number.NaN, 100)).toBeNull()
    expect(ask(symmetry(), { strength: [strength(100, 95)] }).intervalSpansThreshold).toBeNull()
  })

  it('what is known of the other limb is said of every comparison of limbs, and of nothing else', () => {
    const notes = (otherLimb: EvaluationContext['otherLimb']) =>
      ask(symmetry(), { strength: [strength(100, 95)] }, { otherLimb }).notes
    expect(notes('no_history')).toEqual([])
    expect(notes('history')).toEqual(['other_limb_has_history'])
    expect(notes('graft_donor')).toEqual(['other_limb_gave_graft'])
    expect(notes('unknown')).toEqual(['other_limb_history_unknown'])
  })

  it('weeks since the operation begin on its day, and are not counted before it or without it', () => {
    const weeks = (surgeryOn: string | null) =>
      evaluateCriteriaSet(setOf(symmetry()), NONE, { ...CONTEXT, surgeryOn }).sinceSurgery
    expect(weeks('2026-11-20')).toEqual({ value: 0, unit: 'wk' })
    expect(weeks('2026-11-06')).toEqual({ value: 2, unit: 'wk' })
    expect(weeks('2026-11-21')).toBeNull()
    expect(weeks(null)).toBeNull()
  })

  it('a total of nought and of the whole form are totals', () => {
    expect([kosAdlsTotal(0), kosAdlsTotal(70)]).toEqual([{ value: 0 }, { value: 100 }])
    expect([kosAdlsTotal(-1).value, kosAdlsTotal(71).value]).toEqual([null, null])
    expect([ikdcTotal(18, 'items_from_1'), ikdcTotal(105, 'items_from_1')]).toEqual([{ value: 0 }, { value: 100 }])
    for (const answered of [-1, 17.5, 19]) {
      expect(() => ikdcTotalOfAnswered(58, 83, answered), String(answered)).toThrow(RangeError)
    }
    expect(ikdcTotalOfAnswered(0, 83, 0)).toEqual({ value: null, reason: 'too_few_items_answered' })
  })
})

describe('what is kept out', () => {
  const hop: Criterion = {
    ...percent(90),
    kind: 'functional_symmetry',
    key: 'hop',
    measure: 'hop',
    expression: 'symmetry',
    test: 'single_hop_distance',
    betterWhen: 'higher',
  }
  const [left, right] = [
    functional('single_hop_distance', 'left', 150),
    functional('single_hop_distance', 'right', 149),
  ]

  it('is a functional result or a questionnaire that is held, by its own reason', () => {
    for (const functionalResults of [
      [{ ...left, standing: 'possible_side_swap' }, right],
      [left, { ...right, standing: 'possible_side_swap' }],
    ]) {
      const answer = ask(hop, { functional: functionalResults })
      expect(answer).toMatchObject({ verdict: 'not_assessable', reason: 'possible_side_swap' })
    }
    const form = {
      functionalResultId: 'q',
      performedAt: AT,
      questionnaire: 'kos_adls',
      formVersion: null,
      outcome: { value: 95, unit: '{score}' },
      standing: 'entered_in_error',
    }
    const kos = publishedSet('grindem-2020').criteria.find(({ key }) => key === 'kos-adls')!
    expect(ask(kos, { questionnaires: [form] }).reason).toBe('entered_in_error')
    expect(ask(kos, { questionnaires: [{ ...form, standing: 'in_force' }] }).verdict).toBe('met')
  })

  it('is a hop without a side; what remained of the limb is said even where the other one is missing', () => {
    const sideless = functional('single_hop_distance', null, 150, 'cm', { performedAt: '2026-11-19T09:00:00+01:00' })
    expect(ask(hop, { functional: [left, right, sideless] }).verdict).toBe('met')
    expect(ask(hop, { functional: [right] })).toMatchObject({
      reason: 'other_limb_missing',
      beside: { estimatedPreInjuryCapacity: { value: null, reason: 'no_pre_injury_test' } },
    })
  })

  it('ages with the older limb of a session that ran past midnight', () => {
    const answer = ask(hop, {
      functional: [
        { ...left, performedAt: '2026-11-17T23:50:00+01:00' },
        { ...right, performedAt: '2026-11-18T00:10:00+01:00' },
      ],
    })
    expect(answer).toMatchObject({ verdict: 'met', age: { value: 3, unit: 'd' } })
  })
})

describe('the order to read in', () => {
  it('puts met within error before met, and leaves the answers themselves in the order of the set', () => {
    const at = (velocityDegS: number, low: number) =>
      strength(100, 95, { velocityDegS, symmetryInterval: { low, high: 99, confidence: 0.95 } })
    const answers = evaluateCriteriaSet(
      setOf(
        symmetry(),
        { ...symmetry('symmetry', 180), key: 'within' },
        { ...symmetry('symmetry', 300), key: 'missing' },
      ),
      { ...NONE, strength: [at(60, 91), at(180, 85)] },
      CONTEXT,
    ).criteria
    expect(inReadingOrder(answers).map(({ key }) => key)).toEqual(['missing', 'within', 'symmetry'])
    expect(answers.map(({ key }) => key)).toEqual(['symmetry', 'within', 'missing'])
  })
})

describe('a sound set', () => {
  const withCriterion =
    (change: Partial<Criterion>, rule: CriteriaSet['rule'] = { kind: 'all' }) =>
    () =>
      checkCriteriaSet({ ...setOf({ ...symmetry(), ...change } as Criterion), rule })

  it('may ask for one of its criteria, and for evidence of the very day', () => {
    expect(withCriterion({}, { kind: 'at_least', count: 1 })).not.toThrow()
    expect(withCriterion({ maximumAgeDays: 0 })).not.toThrow()
    expect(withCriterion({ maximumAgeDays: -1 })).toThrow('has an unusable maximum age in "symmetry"')
  })

  it.each([
    ['normalised_torque', 'N.m'],
    ['normalised_torque', '[ft_i].[lbf_av]/[lb_av]'],
    ['time_since_surgery', 'kg'],
    ['questionnaire_total', '%'],
    ['functional_value', 'Nm'],
    ['strength_ratio', '{ratio}'],
  ] as const)('has thresholds in the unit its values are compared in: %s in %s is none', (kind, unit) => {
    const change = { kind, threshold: { value: 1, unit } } as Partial<Criterion>
    expect(withCriterion(change)).toThrow('has a threshold in the wrong unit in "symmetry"')
  })
})
