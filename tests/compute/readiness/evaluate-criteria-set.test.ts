import { describe, it, expect } from 'vitest'
import fc from 'fast-check'
import {
  PUBLISHED_CRITERIA_SETS,
  checkCriteriaSet,
  evaluateCriteriaSet,
  inReadingOrder,
  matchPopulation,
  meetsThreshold,
} from '../../../src/compute/readiness/index.ts'
import type {
  Criterion,
  CriteriaSet,
  CriteriaSetAnswer,
  CriterionAnswer,
  Evidence,
  EvaluationContext,
  FunctionalEvidence,
} from '../../../src/compute/readiness/index.ts'
import {
  ALL_MET,
  AT,
  CONTEXT,
  EVIDENCE,
  ON_FIELD_DONE,
  functional,
  limb,
  publishedSet,
  strength,
} from './made-up-subject.ts'

const kyritsis = publishedSet('kyritsis-2016')
const gokeler = publishedSet('gokeler-2017')
const grindem = publishedSet('grindem-2020')
const toole = publishedSet('toole-2017')
const wellsandt = publishedSet('wellsandt-2017')

function answerOf(answer: CriteriaSetAnswer, key: string): CriterionAnswer {
  const found = answer.criteria.find((criterion) => criterion.key === key)
  if (found === undefined) throw new Error(`no criterion ${key}`)
  return found
}
function only(set: CriteriaSet, key: string): CriteriaSet {
  return { ...set, rule: { kind: 'all' }, criteria: set.criteria.filter((criterion) => criterion.key === key) }
}
function evaluateOne(
  set: CriteriaSet,
  key: string,
  evidence: Partial<Evidence>,
  context: Partial<EvaluationContext> = {},
) {
  const none: Evidence = { strength: [], functional: [], questionnaires: [], observations: [], preInjury: [] }
  return answerOf(evaluateCriteriaSet(only(set, key), { ...none, ...evidence }, { ...CONTEXT, ...context }), key)
}

describe('evaluateCriteriaSet, the whole of one answer', () => {
  const answer = () => evaluateCriteriaSet(kyritsis, EVIDENCE, CONTEXT)

  it('counts four met, one not met and one not assessable, and says that the criteria are not met', () => {
    expect(answer().counts).toEqual({ met: 4, notMet: 1, notAssessable: 1 })
    expect(answer().overall).toBe('criteria_not_met')
    expect(answer().sinceSurgery?.value).toBeCloseTo(40.43, 2)
    expect(answer()).toMatchObject({
      on: '2026-11-20',
      criteriaSet: { key: 'kyritsis-2016', version: kyritsis.version, citation: 'Kyritsis 2016 BJSM 50:946-51' },
    })
  })

  it('meets the deficit below 10 % within error and shows what remains of the limb before injury beside it', () => {
    const quadriceps = answerOf(answer(), 'quadriceps-deficit-60')
    expect(quadriceps).toMatchObject({
      verdict: 'met',
      measure: 'peakTorqueDeficit',
      comparator: '<',
      threshold: { value: 10, unit: '%' },
      intervalSpansThreshold: true,
      age: { value: 3, unit: 'd' },
      comparability: 'comparable_with_caution',
      evidence: [
        { resultId: 'result-right', measure: 'peakTorque', statistic: 'best' },
        { resultId: 'result-left', measure: 'peakTorque', statistic: 'best' },
      ],
    })
    const observed = quadriceps.observed as { value: number; interval: { low: number; high: number } }
    expect(observed.value).toBeCloseTo(7.185, 3)
    expect(observed.interval.low).toBeCloseTo(-3.47, 10)
    expect(observed.interval.high).toBeCloseTo(16.75, 10)
    expect(quadriceps.beside?.estimatedPreInjuryCapacity.value).toBeCloseTo(90.13, 2)
  })

  it('gives hops, run and the missing observation their verdicts, distance and ages', () => {
    const values = ['single-hop', 'triple-hop', 'crossover-hop'].map(
      (key) => (answerOf(answer(), key).observed as { value: number }).value,
    )
    expect(values.map((value) => value.toFixed(2))).toEqual(['93.67', '91.99', '88.68'])
    expect(answerOf(answer(), 'crossover-hop').verdict).toBe('not_met')
    expect(answerOf(answer(), 'crossover-hop').distance?.value).toBeCloseTo(1.32, 2)
    expect(answerOf(answer(), 'running-t-test')).toMatchObject({
      verdict: 'met',
      age: { value: 4 },
      observed: { value: 10.62 },
    })
    expect(answerOf(answer(), 'on-field-rehabilitation')).toMatchObject({
      verdict: 'not_assessable',
      reason: 'missing',
      comparator: 'is',
      threshold: 'completed',
      observed: null,
      evidence: [],
    })
  })

  it('lists what is missing and says when the evidence runs out and whom the set was published for', () => {
    expect(answer().toAssess).toEqual([
      {
        criterion: 'on-field-rehabilitation',
        needs: "a clinician's observation that the sport-specific programme was completed",
      },
    ])
    expect(answer().expiresOn).toBe('2026-12-15')
    expect(answer().population).toEqual({
      description: '158 male professional athletes',
      matches: 'no',
      note: 'Published for men; this subject is female.',
    })
    expect(answer().notes).toEqual([
      "States criteria on a date. The decision is a licensed clinician's; local protocol comes first.",
    ])
  })

  it('reads gaps first, then what is not met, then met within error, then met', () => {
    expect(inReadingOrder(answer().criteria).map((criterion) => criterion.key)).toEqual([
      'on-field-rehabilitation',
      'crossover-hop',
      'quadriceps-deficit-60',
      'single-hop',
      'triple-hop',
      'running-t-test',
    ])
  })
})

describe('every pattern of missing criteria of one set', () => {
  const drop: Record<string, (evidence: Evidence) => Evidence> = {
    'quadriceps-deficit-60': (e) => ({ ...e, strength: [] }),
    'single-hop': (e) => without(e, 'single_hop_distance'),
    'triple-hop': (e) => without(e, 'triple_hop_distance'),
    'crossover-hop': (e) => without(e, 'triple_crossover_hop_distance'),
    'running-t-test': (e) => without(e, 'agility_t_run_time'),
    'on-field-rehabilitation': (e) => ({ ...e, observations: [] }),
  }
  const without = (e: Evidence, test: string): Evidence => ({
    ...e,
    functional: e.functional.filter((f) => f.test !== test),
  })
  const keys = kyritsis.criteria.map((criterion) => criterion.key)

  it.each(Array.from({ length: 64 }, (_, pattern) => pattern))(
    'pattern %i counts exactly what is missing',
    (pattern) => {
      const missing = keys.filter((_, i) => (pattern >> i) & 1)
      const evidence = missing.reduce((e, key) => drop[key]!(e), ALL_MET)
      const answer = evaluateCriteriaSet(kyritsis, evidence, CONTEXT)
      expect(answer.counts).toEqual({ met: 6 - missing.length, notMet: 0, notAssessable: missing.length })
      expect(answer.overall).toBe(missing.length === 0 ? 'all_criteria_met' : 'not_assessable')
      expect(answer.toAssess.map((item) => item.criterion)).toEqual(missing)

      // A criterion that is not met settles the matter whatever else is missing
      const weak: Evidence = { ...evidence, strength: [strength(171.2, 120)] }
      expect(evaluateCriteriaSet(kyritsis, weak, CONTEXT).overall).toBe('criteria_not_met')

      // Any four of six
      const four: CriteriaSet = { ...kyritsis, rule: { kind: 'at_least', count: 4 } }
      expect(evaluateCriteriaSet(four, evidence, CONTEXT).overall).toBe(
        missing.length <= 2 ? 'required_criteria_met' : 'not_assessable',
      )
    },
  )

  it('is not met under "at least n" only once the missing could not help any more', () => {
    const five: CriteriaSet = { ...kyritsis, rule: { kind: 'at_least', count: 5 } }
    expect(evaluateCriteriaSet(five, EVIDENCE, CONTEXT).overall).toBe('not_assessable')
    const six: CriteriaSet = { ...kyritsis, rule: { kind: 'at_least', count: 6 } }
    expect(evaluateCriteriaSet(six, EVIDENCE, CONTEXT).overall).toBe('criteria_not_met')
  })
})

// Evidence that gives one criterion of a shipped set the value asked for
function evidenceFor(criterion: Criterion, value: number): Partial<Evidence> {
  switch (criterion.kind) {
    case 'strength_symmetry': {
      const { movement, velocityDegS } = criterion.series
      const involved = criterion.expression === 'deficit' ? 200 - 2 * value : 2 * value
      const test = { movement, velocityDegS: velocityDegS ?? 60 }
      if (criterion.expression !== 'pre_injury_capacity') return { strength: [strength(200, involved, test)] }
      const before = { ...EVIDENCE.preInjury[0]!, outcome: { value: 200, unit: 'N.m' } }
      return { strength: [strength(150, involved, test)], preInjury: [before] }
    }
    case 'strength_ratio':
      return {
        strength: [
          strength(200, 2 * value, { movement: 'flexion', velocityDegS: 300 }),
          strength(200, 200, { velocityDegS: 300 }),
        ],
      }
    case 'normalised_torque': {
      const right = limb(0, 'result-right', { outcome: { value, unit: 'N.m/kg' } })
      return { strength: [strength(3, 3, { measure: 'peakTorquePerBodyMass', right })] }
    }
    case 'functional_symmetry': {
      const [inv, other] = criterion.betterWhen === 'higher' ? [4 * value, 400] : [400, 4 * value]
      const results = [functional(criterion.test, 'right', inv), functional(criterion.test, 'left', other)]
      if (criterion.expression === 'symmetry') return { functional: results }
      const reference = { ...EVIDENCE.preInjury[0]!, of: { test: criterion.test }, comparability: null }
      return { functional: results.slice(0, 1), preInjury: [{ ...reference, outcome: { value: other, unit: 'cm' } }] }
    }
    case 'functional_value': {
      const unit = 'unit' in criterion.threshold ? criterion.threshold.unit : ''
      return { functional: [functional(criterion.test, null, value, unit)] }
    }
    case 'questionnaire_total':
      return {
        questionnaires: [
          {
            functionalResultId: 'q',
            performedAt: AT,
            questionnaire: criterion.questionnaire,
            formVersion: criterion.formVersions?.[0] ?? null,
            outcome: { value, unit: '{score}' },
            standing: 'in_force',
          },
        ],
      }
    default:
      throw new Error('not a number')
  }
}

const compared = PUBLISHED_CRITERIA_SETS.flatMap((set) =>
  set.criteria.flatMap((criterion) => {
    if (criterion.kind === 'clinician_observation') return []
    const thresholds =
      'bySex' in criterion.threshold
        ? (['female', 'male'] as const)
            .map((sex) => [sex, criterion.threshold] as const)
            .map(([sex, t]) => ({
              sex,
              value: 'bySex' in t ? t.bySex[sex].value : Number.NaN,
            }))
        : [{ sex: 'female' as const, value: criterion.threshold.value }]
    return thresholds.map((t) => ({ name: `${set.key} ${criterion.key} (${t.sex})`, set, criterion, ...t }))
  }),
)

describe('the shipped sets at, just under and just over each threshold', () => {
  it.each(compared)('$name', ({ set, criterion, value, sex }) => {
    const verdictAt = (v: number): string => evaluateOne(set, criterion.key, evidenceFor(criterion, v), { sex }).verdict
    const step = value * 1e-6
    const below = criterion.comparator === '<' || criterion.comparator === '<='
    const atMeets = criterion.comparator === '>=' || criterion.comparator === '<='
    expect([verdictAt(value - step), verdictAt(value), verdictAt(value + step)]).toEqual([
      below ? 'met' : 'not_met',
      atMeets ? 'met' : 'not_met',
      below ? 'not_met' : 'met',
    ])
  })

  it('have the published comparators: above for Kyritsis and Gokeler, at or above for Grindem, Toole and Wellsandt', () => {
    const comparators = (set: CriteriaSet): string[] => [
      ...new Set(set.criteria.map((criterion) => criterion.comparator)),
    ]
    expect(comparators(kyritsis).sort()).toEqual(['<', '>', 'is'])
    expect(comparators(gokeler).sort()).toEqual(['<', '>', 'is'])
    for (const set of [grindem, toole, wellsandt]) expect(comparators(set)).toEqual(['>='])
  })

  it('hold the published number of criteria, a citation, limits and a line on memory, and are sound', () => {
    expect(PUBLISHED_CRITERIA_SETS.map((set) => [set.key, set.criteria.length])).toEqual([
      ['kyritsis-2016', 6],
      ['grindem-2020', 7],
      ['toole-2017', 7],
      ['gokeler-2017', 14],
      ['wellsandt-2017', 10],
    ])
    for (const set of PUBLISHED_CRITERIA_SETS) {
      expect(() => checkCriteriaSet(set)).not.toThrow()
      expect(set.citation).toMatch(/\d{4} \w+ \d+/u)
      expect(set.limits.length * set.fromMemory.length).toBeGreaterThan(0)
    }
  })

  it('say nothing in the words of a clearance', () => {
    const words = /\b(clear(ed|s)?|safe|fit|ready to|pass(ed|es)?|fail(ed|s)?|ok|normal|healed)\b/iu
    const answers = PUBLISHED_CRITERIA_SETS.flatMap((set) => [
      evaluateCriteriaSet(set, EVIDENCE, CONTEXT),
      evaluateCriteriaSet(set, { ...EVIDENCE, strength: [] }, { ...CONTEXT, involvedSide: null, sex: null }),
    ])
    expect(JSON.stringify([PUBLISHED_CRITERIA_SETS, answers])).not.toMatch(words)
  })
})

describe('meetsThreshold', () => {
  it('keeps > and >= apart at exactly 90, and does not round', () => {
    expect(meetsThreshold(90, '>=', 90)).toBe(true)
    expect(meetsThreshold(90, '>', 90)).toBe(false)
    expect(meetsThreshold(89.9999, '>=', 90)).toBe(false)
    expect(meetsThreshold(90.0001, '>', 90)).toBe(true)
    expect(meetsThreshold(11, '<', 11)).toBe(false)
    expect(meetsThreshold(11, '<=', 11)).toBe(true)
    expect(meetsThreshold(11.0001, '<=', 11)).toBe(false)
  })

  it('does not take the noise of binary arithmetic for a difference', () => {
    const symmetry = (100 * 61.2) / 68
    expect(meetsThreshold(symmetry, '>=', 90)).toBe(true)
    fc.assert(
      fc.property(fc.integer({ min: 100, max: 40000 }), (hundredths) => {
        const uninvolved = hundredths / 100
        const involved = (hundredths * 9) / 1000
        expect(meetsThreshold((100 * involved) / uninvolved, '>=', 90)).toBe(true)
        expect(meetsThreshold((100 * involved) / uninvolved, '>', 90)).toBe(false)
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })

  it('refuses a number that is none', () => {
    expect(() => meetsThreshold(Number.NaN, '<', 90)).toThrow(RangeError)
    expect(() => meetsThreshold(90, '<', Infinity)).toThrow(RangeError)
  })
})

describe('the evidence in force', () => {
  const later = { sessionId: 'session-2', performedAt: '2026-11-19T09:00:00+01:00' }
  const quadriceps = (evidence: Partial<Evidence>, context: Partial<EvaluationContext> = {}) =>
    evaluateOne(kyritsis, 'quadriceps-deficit-60', evidence, context)

  it.each([
    [
      'gave no value',
      strength(200, 0, { ...later, right: limb(0, 'r2', { outcome: { value: null, reason: 'aborted' } }) }),
      'aborted',
    ],
    ['was not made on the other side', strength(0, 198, { ...later, left: null }), 'other_limb_missing'],
    ['was not made on the involved side', strength(200, 0, { ...later, right: null }), 'involved_limb_missing'],
    [
      'is held',
      strength(200, 198, { ...later, right: limb(198, 'r2', { standing: 'possible_unit_error' }) }),
      'possible_unit_error',
    ],
    ['hurt at 4/10', strength(200, 198, { ...later, right: limb(198, 'r2', { painDuring: 4 }) }), 'pain_limited'],
    [
      'has no pain score',
      strength(200, 198, { ...later, left: limb(200, 'l2', { painDuring: null }) }),
      'pain_not_recorded',
    ],
    [
      'compares setups that differ',
      strength(200, 198, { ...later, limbComparability: 'not_comparable' }),
      'not_comparable',
    ],
    ['has unknown comparability', strength(200, 198, { ...later, limbComparability: null }), 'comparability_unknown'],
    [
      'has setups that cannot be judged',
      strength(200, 198, { ...later, limbComparability: 'not_assessable' }),
      'comparability_not_assessable',
    ],
    ['has no usable denominator', strength(0, 198, later), 'no_usable_denominator'],
    [
      'is in a unit of another quantity',
      strength(200, 0, { ...later, right: limb(0, 'r2', { outcome: { value: 198, unit: 'J' } }) }),
      'unit_differs',
    ],
    ['is no number', strength(200, Number.NaN, later), 'not_a_number'],
  ])('is the latest attempt even if it %s', (_what, attempt, reason) => {
    expect(quadriceps({ strength: [strength(200, 195)] }).verdict).toBe('met')
    expect(quadriceps({ strength: [strength(200, 195), attempt] })).toMatchObject({ verdict: 'not_assessable', reason })
    expect(quadriceps({ strength: [attempt, strength(200, 195)] })).toMatchObject({ verdict: 'not_assessable', reason })
  })

  it('ignores what lies after the date evaluated', () => {
    const evidence = {
      strength: [strength(200, 195), strength(200, 100, { ...later, performedAt: '2026-11-21T09:00:00+01:00' })],
    }
    expect(quadriceps(evidence).verdict).toBe('met')
    expect(quadriceps(evidence, { on: '2026-11-21' }).verdict).toBe('not_met')
    expect(quadriceps(evidence, { on: '2026-11-16' })).toMatchObject({ verdict: 'not_assessable', reason: 'missing' })
  })

  it('counts up to its maximum age and no day longer', () => {
    const evidence = { strength: [strength(200, 195)] }
    expect(quadriceps(evidence, { on: '2026-12-15' })).toMatchObject({ verdict: 'met', age: { value: 28 } })
    expect(quadriceps(evidence, { on: '2026-12-16' })).toMatchObject({ verdict: 'not_assessable', reason: 'stale' })
  })

  it('of two attempts at one instant is the less favourable', () => {
    expect(quadriceps({ strength: [strength(200, 195), strength(200, 150)] }).verdict).toBe('not_met')
    expect(quadriceps({ strength: [strength(200, 150), strength(200, 195)] }).verdict).toBe('not_met')
  })

  it('of one session is the later set of the same test', () => {
    const again = strength(200, 195, { performedAt: '2026-11-17T09:25:00+01:00' })
    expect(quadriceps({ strength: [again, strength(200, 150)] }).verdict).toBe('met')
  })

  it('is of the series asked for only', () => {
    const others = [
      strength(200, 195, { velocityDegS: 180 }),
      strength(200, 195, { movement: 'flexion' }),
      strength(200, 195, { contractionMode: 'isokinetic_eccentric' }),
      strength(200, 195, { measure: 'totalWork' }),
      strength(200, 195, { statistic: 'mean' }),
    ]
    expect(quadriceps({ strength: others })).toMatchObject({ verdict: 'not_assessable', reason: 'missing' })
  })

  it('is the least favourable test of the latest session where a criterion leaves the test open', () => {
    const session = [
      strength(200, 195),
      strength(150, 120, { velocityDegS: 180 }),
      strength(100, 98, { velocityDegS: 300 }),
    ]
    expect(evaluateOne(toole, 'quadriceps-symmetry', { strength: session })).toMatchObject({
      verdict: 'not_met',
      observed: { value: 80 },
    })
    expect(evaluateOne(toole, 'quadriceps-symmetry', { strength: session.slice(0, 1) }).verdict).toBe('met')
  })

  it('needs full comparability where the criterion asks for it', () => {
    const strict: CriteriaSet = {
      ...kyritsis,
      criteria: kyritsis.criteria.map((c) =>
        c.kind === 'strength_symmetry' ? { ...c, comparabilityNeeded: 'comparable' as const } : c,
      ),
    }
    const evidence = { strength: [strength(200, 195)] }
    expect(evaluateOne(strict, 'quadriceps-deficit-60', evidence).reason).toBe('comparable_with_caution_only')
  })

  it('does not use a flexion of unknown gravity correction, nor a ratio without correction', () => {
    const unknown = limb(195, 'r', { gravityCorrected: 'unknown' })
    const hamstring = strength(200, 195, { movement: 'flexion', right: unknown })
    expect(evaluateOne(gokeler, 'hamstring-symmetry-60', { strength: [hamstring] }).reason).toBe(
      'gravity_correction_unknown',
    )
    expect(quadriceps({ strength: [strength(200, 195, { right: unknown })] }).verdict).toBe('met')
    const uncorrected = limb(120, 'r', { gravityCorrected: 'no' })
    const pair = [
      strength(200, 120, { movement: 'flexion', velocityDegS: 300, right: uncorrected }),
      strength(200, 200, { velocityDegS: 300 }),
    ]
    expect(evaluateOne(gokeler, 'hamstring-quadriceps-ratio-300', { strength: pair }).reason).toBe(
      'not_gravity_corrected',
    )
  })

  it('takes both parts of a ratio from one session', () => {
    const pair = [
      strength(200, 120, { movement: 'flexion', velocityDegS: 300, ...later }),
      strength(200, 200, { velocityDegS: 300 }),
    ]
    expect(evaluateOne(gokeler, 'hamstring-quadriceps-ratio-300', { strength: pair }).reason).toBe('not_of_one_session')
  })

  it('converts units of one kind', () => {
    const inFootPounds = limb(0, 'r', { outcome: { value: 195 / 1.3558179483314004, unit: '[ft_i].[lbf_av]' } })
    const answer = quadriceps({ strength: [strength(200, 0, { right: inFootPounds })] })
    expect((answer.observed as { value: number }).value).toBeCloseTo(2.5, 10)
  })
})

describe('limbs, sex, forms, surgery and observations', () => {
  it.each([
    [null, 'involved_side_unknown'],
    ['bilateral' as const, 'no_uninvolved_limb'],
  ])('cannot assess symmetry with involved side %s', (involvedSide, reason) => {
    expect(evaluateOne(kyritsis, 'single-hop', EVIDENCE, { involvedSide }).reason).toBe(reason)
    expect(evaluateOne(kyritsis, 'quadriceps-deficit-60', EVIDENCE, { involvedSide }).reason).toBe(reason)
    expect(evaluateOne(gokeler, 'quadriceps-per-body-mass-60', EVIDENCE, { involvedSide }).reason).toBe(reason)
    expect(evaluateOne(gokeler, 'hamstring-quadriceps-ratio-300', EVIDENCE, { involvedSide }).reason).toBe(reason)
  })

  it('takes the left limb as numerator when the left is involved, and keeps a symmetry above 100', () => {
    const answer = evaluateOne(kyritsis, 'single-hop', EVIDENCE, { involvedSide: 'left' })
    expect((answer.observed as { value: number }).value).toBeCloseTo((100 * 158) / 148, 10)
  })

  it.each([
    ['history' as const, ['other_limb_has_history']],
    ['graft_donor' as const, ['other_limb_gave_graft']],
    ['unknown' as const, ['other_limb_history_unknown']],
    ['no_history' as const, []],
  ])('notes what is known of the other limb: %s', (otherLimb, notes) => {
    expect(evaluateOne(kyritsis, 'single-hop', EVIDENCE, { otherLimb }).notes).toEqual(notes)
    expect(evaluateOne(kyritsis, 'running-t-test', EVIDENCE, { otherLimb }).notes).toEqual([])
  })

  it('cannot apply a threshold by sex to a subject of unknown sex', () => {
    const ratio = gokeler.criteria.find((criterion) => criterion.kind === 'strength_ratio')!
    const evidence = evidenceFor(ratio, 60)
    expect(evaluateOne(gokeler, ratio.key, evidence, { sex: 'female' }).verdict).toBe('met')
    expect(evaluateOne(gokeler, ratio.key, evidence, { sex: 'male' }).verdict).toBe('not_met')
    expect(evaluateOne(gokeler, ratio.key, evidence, { sex: null })).toMatchObject({
      reason: 'sex_unknown',
      threshold: null,
    })
  })

  it('does not read a total of another form, or of an unknown one', () => {
    const total = (formVersion: string | null): Partial<Evidence> => ({
      questionnaires: [
        {
          functionalResultId: 'q',
          performedAt: AT,
          questionnaire: 'acl_rsi',
          formVersion,
          outcome: { value: 71, unit: '{score}' },
          standing: 'in_force',
        },
      ],
    })
    expect(evaluateOne(gokeler, 'acl-rsi', total('12_items')).verdict).toBe('met')
    expect(evaluateOne(gokeler, 'acl-rsi', total('6_items')).reason).toBe('form_version_differs')
    expect(evaluateOne(gokeler, 'acl-rsi', total(null)).reason).toBe('form_version_unknown')
  })

  it('counts months since surgery by the calendar and weeks by days', () => {
    const since = (value: number, unit: string): CriteriaSet => ({
      ...kyritsis,
      criteria: [
        {
          kind: 'time_since_surgery',
          key: 'since',
          measure: 'timeSinceSurgery',
          comparator: '>=',
          threshold: { value, unit },
          maximumAgeDays: null,
        },
      ],
    })
    const verdict = (set: CriteriaSet, surgeryOn: string | null, on: string) =>
      evaluateOne(set, 'since', {}, { surgeryOn, on })
    expect(verdict(since(9, 'mo'), '2026-02-10', '2026-11-10').verdict).toBe('met')
    expect(verdict(since(9, 'mo'), '2026-02-10', '2026-11-09').verdict).toBe('not_met')
    expect(verdict(since(1, 'mo'), '2026-01-31', '2026-02-28').verdict).toBe('met')
    expect(verdict(since(1, 'mo'), '2026-01-31', '2026-02-27').verdict).toBe('not_met')
    expect(verdict(since(2, 'a'), '2024-02-29', '2026-02-28').verdict).toBe('met')
    expect(verdict(since(40, 'wk'), '2026-02-10', '2026-11-17').verdict).toBe('met')
    expect(verdict(since(40, 'wk'), '2026-02-10', '2026-11-16').verdict).toBe('not_met')
    expect(verdict(since(40, 'wk'), null, '2026-11-16').reason).toBe('no_surgery_date')
    expect(verdict(since(40, 'wk'), '2026-12-01', '2026-11-16').reason).toBe('before_surgery')
  })

  it('takes an observation by its word', () => {
    const seen = (finding: string | null, more = {}) =>
      evaluateOne(kyritsis, 'on-field-rehabilitation', { observations: [{ ...ON_FIELD_DONE, finding, ...more }] })
    expect(seen('completed').verdict).toBe('met')
    expect(seen('not_completed').verdict).toBe('not_met')
    expect(seen(null).reason).toBe('not_answered')
    expect(seen('completed', { standing: 'entered_in_error' }).reason).toBe('entered_in_error')
    const both = [ON_FIELD_DONE, { ...ON_FIELD_DONE, finding: 'not_completed' }]
    expect(evaluateOne(kyritsis, 'on-field-rehabilitation', { observations: both }).reason).toBe('contradicting_values')
  })

  it('needs a hop of both limbs in one session and trusts no contradiction', () => {
    const left = functional('single_hop_distance', 'left', 158)
    const right = functional('single_hop_distance', 'right', 150)
    const hop = (...results: FunctionalEvidence[]) => evaluateOne(kyritsis, 'single-hop', { functional: results })
    expect(hop(left, right).verdict).toBe('met')
    expect(hop(left).reason).toBe('involved_limb_missing')
    expect(hop(right).reason).toBe('other_limb_missing')
    expect(hop(left, right, { ...right, sessionId: 's2', performedAt: '2026-11-18T09:00:00Z' }).reason).toBe(
      'other_limb_missing',
    )
    expect(hop(left, right, { ...right, outcome: { value: 140, unit: 'cm' } }).reason).toBe('contradicting_values')
    expect(hop(left, { ...right, outcome: { value: null, reason: 'landing_lost' } }).reason).toBe('landing_lost')
    expect(hop({ ...left, outcome: { value: 0, unit: 'cm' } }, right).reason).toBe('no_usable_denominator')
    expect(hop({ ...left, outcome: { value: 1.58, unit: 'm' } }, right).observed).toMatchObject({
      value: expect.closeTo(94.937, 3) as number,
    })
  })

  it('asks for the old test of the other limb where the capacity before injury is the criterion', () => {
    const key = 'quadriceps-pre-injury-capacity'
    expect(evaluateOne(wellsandt, key, EVIDENCE)).toMatchObject({
      verdict: 'met',
      observed: { value: expect.closeTo(90.13, 2) as number },
    })
    expect(evaluateOne(wellsandt, key, { ...EVIDENCE, preInjury: [] }).reason).toBe('no_pre_injury_test')
    const blocked = EVIDENCE.preInjury.map((reference) => ({ ...reference, comparability: 'not_comparable' as const }))
    expect(evaluateOne(wellsandt, key, { ...EVIDENCE, preInjury: blocked }).reason).toBe('not_comparable')
    const two = [...EVIDENCE.preInjury, { ...EVIDENCE.preInjury[0]!, outcome: { value: 190, unit: 'N.m' } }]
    expect(evaluateOne(wellsandt, key, { ...EVIDENCE, preInjury: two }).verdict).toBe('not_met')
  })
})

describe('whom a set was published for', () => {
  const population = {
    description: '20 adults',
    sex: 'female',
    sportLevels: ['club'],
    ageYears: { from: 18, to: 40 },
  } as const
  const subject = { sex: 'female', ageYears: 24, sportLevel: 'club' } as const

  it('matches only where every stated trait is known to agree', () => {
    expect(matchPopulation(population, subject)).toEqual({ description: '20 adults', matches: 'yes', note: null })
    expect(matchPopulation(population, { ...subject, sportLevel: null })).toMatchObject({
      matches: 'unknown',
      note: 'Not recorded for this subject: level of sport.',
    })
    expect(matchPopulation(population, { sex: null, ageYears: null, sportLevel: 'club' }).note).toBe(
      'Not recorded for this subject: sex, age.',
    )
    expect(matchPopulation(population, { ...subject, ageYears: 41 }).note).toBe(
      'Published for ages 18 to 40; this subject is 41.',
    )
    expect(matchPopulation(population, { ...subject, sex: 'male' }).note).toBe(
      'Published for women; this subject is male.',
    )
    expect(
      matchPopulation({ ...population, sportLevels: ['club', 'elite'] }, { ...subject, sportLevel: 'none' }),
    ).toEqual({
      description: '20 adults',
      matches: 'no',
      note: "Published for the level club or elite; this subject's is none.",
    })
    expect(matchPopulation(grindem.population, subject)).toEqual({
      description: '213 athletes',
      matches: 'unknown',
      note: 'Published for 213 athletes; whether this subject is like them is for the clinician to judge.',
    })
    for (const [ageYears, matches] of [
      [17.9, 'no'],
      [18, 'yes'],
      [40, 'yes'],
      [40.1, 'no'],
    ] as const) {
      expect(matchPopulation(population, { ...subject, ageYears }).matches, String(ageYears)).toBe(matches)
    }
    const none = { description: '20 adults', sex: null, sportLevels: null, ageYears: null }
    for (const stated of [{ sex: 'female' }, { sportLevels: ['club'] }, { ageYears: { from: 18, to: 40 } }] as const) {
      expect(matchPopulation({ ...none, ...stated }, subject)).toEqual({
        description: '20 adults',
        matches: 'yes',
        note: null,
      })
    }
  })
})

describe('a criteria set that contradicts itself', () => {
  const criterion = kyritsis.criteria[0] as Extract<Criterion, { kind: 'strength_symmetry' }>
  it.each([
    ['has no criteria', { criteria: [] }],
    ['names a criterion twice', { criteria: [criterion, criterion] }],
    ['asks for 0 of 1 criteria', { criteria: [criterion], rule: { kind: 'at_least', count: 0 } }],
    ['asks for 2 of 1 criteria', { criteria: [criterion], rule: { kind: 'at_least', count: 2 } }],
    ['asks for 0.5 of 1 criteria', { criteria: [criterion], rule: { kind: 'at_least', count: 0.5 } }],
    ['has a threshold that is no number', { criteria: [{ ...criterion, threshold: { value: NaN, unit: '%' } }] }],
    ['has a threshold in the wrong unit', { criteria: [{ ...criterion, threshold: { value: 0.9, unit: '{ratio}' } }] }],
    ['has an unusable maximum age', { criteria: [{ ...criterion, maximumAgeDays: -1 }] }],
  ] as [string, Partial<CriteriaSet>][])('is refused when it %s', (message, change) => {
    expect(() => evaluateCriteriaSet({ ...kyritsis, ...change }, EVIDENCE, CONTEXT)).toThrow(message)
  })

  it('is refused a date that is none and evidence without a time zone', () => {
    expect(() => evaluateCriteriaSet(kyritsis, EVIDENCE, { ...CONTEXT, on: '2026-02-30' })).toThrow(RangeError)
    const local = { ...EVIDENCE, strength: [strength(200, 195, { performedAt: '2026-11-17T09:05:00' })] }
    expect(() => evaluateCriteriaSet(kyritsis, local, CONTEXT)).toThrow(RangeError)
  })
})

describe('laws of readiness', () => {
  const rich: Evidence = {
    ...ALL_MET,
    strength: [60, 180, 300].flatMap((velocityDegS) => [
      strength(171, 168, { velocityDegS }),
      strength(120, 118, { velocityDegS, movement: 'flexion' }),
      strength(3.4, 3.2, {
        velocityDegS,
        measure: 'peakTorquePerBodyMass',
        left: limb(0, 'l', { outcome: { value: 3.4, unit: 'N.m/kg' } }),
        right: limb(0, 'r', { outcome: { value: 3.2, unit: 'N.m/kg' } }),
      }),
    ]),
    functional: [
      ...ALL_MET.functional,
      functional('six_metre_timed_hop', 'left', 2, 's'),
      functional('six_metre_timed_hop', 'right', 2.1, 's'),
      functional('side_hop_count', 'left', 50, '{repetition}'),
      functional('side_hop_count', 'right', 49, '{repetition}'),
      functional('landing_error_score', null, 4, '{score}'),
    ],
    questionnaires: [
      ['ikdc_subjective', 'current_87_points', 93],
      ['kos_adls', null, 95],
      ['global_rating', null, 94],
      ['acl_rsi', '12_items', 71],
    ].map(([questionnaire, formVersion, value]) => ({
      functionalResultId: String(questionnaire),
      performedAt: AT,
      questionnaire: String(questionnaire),
      formVersion: formVersion as string | null,
      outcome: { value: Number(value), unit: '{score}' },
      standing: 'in_force',
    })),
    observations: [
      ON_FIELD_DONE,
      { ...ON_FIELD_DONE, observation: 'subjective_form_within_reference', finding: 'within_reference' },
    ],
  }

  // Every place in the evidence and the context that may be unknown, as a path
  function places(value: unknown, path: (string | number)[] = []): (string | number)[][] {
    const identity = [
      'performedAt',
      'sessionId',
      'movement',
      'contractionMode',
      'velocityDegS',
      'measure',
      'statistic',
      'test',
      'side',
      'questionnaire',
      'observation',
      'of',
      'preInjury',
      'formVersion',
      'symmetryInterval',
      'resultId',
      'functionalResultId',
      'observationId',
    ]
    if (value === null || typeof value !== 'object') return [path]
    return Object.entries(value).flatMap(([key, inner]) =>
      identity.includes(key) ? [] : places(inner, [...path, Array.isArray(value) ? Number(key) : key]),
    )
  }
  function unknownAt(value: unknown, path: (string | number)[]): unknown {
    const [head, ...rest] = path
    if (head === undefined) return null
    if (Array.isArray(value)) return value.map((item: unknown, i) => (i === head ? unknownAt(item, rest) : item))
    const object = value as Record<string, unknown>
    return { ...object, [head]: unknownAt(object[head], rest) }
  }

  it('never becomes greener when one field of the evidence in force goes unknown', () => {
    const paths = places(rich)
    expect(paths.length).toBeGreaterThan(150)
    const met = (answer: CriteriaSetAnswer): Set<string> =>
      new Set(answer.criteria.filter((c) => c.verdict === 'met').map((c) => c.key))
    const greener: unknown[] = []
    for (const set of PUBLISHED_CRITERIA_SETS) {
      for (const base of [rich, { ...rich, strength: rich.strength.map((s) => ({ ...s, right: limb(100, 'r') })) }]) {
        const full = met(evaluateCriteriaSet(set, base, CONTEXT))
        const check = (what: unknown, answer: CriteriaSetAnswer): void => {
          const extra = [...met(answer)].filter((key) => !full.has(key))
          if (extra.length > 0) greener.push({ set: set.key, what, extra })
        }
        for (const path of paths) check(path, evaluateCriteriaSet(set, unknownAt(base, path) as Evidence, CONTEXT))
        for (const field of ['involvedSide', 'sex', 'surgeryOn'] as const) {
          check(field, evaluateCriteriaSet(set, base, { ...CONTEXT, [field]: null }))
        }
      }
    }
    expect(greener).toEqual([])
  })

  it('turns a met criterion into not assessable when the field it rests on goes unknown', () => {
    const fields = ['outcome', 'standing', 'painDuring'] as const
    for (const field of fields) {
      const right = { ...limb(168, 'r'), [field]: field === 'outcome' ? { value: null, reason: '' } : null } as never
      const answer = evaluateOne(kyritsis, 'quadriceps-deficit-60', { strength: [strength(171, 168, { right })] })
      expect(answer.verdict).toBe('not_assessable')
      expect(answer.reason).toMatch(/^[a-z_]+$/u)
    }
  })

  it('is met in full by the complete evidence of the laws above', () => {
    expect(
      PUBLISHED_CRITERIA_SETS.map((set) => [set.key, evaluateCriteriaSet(set, rich, CONTEXT).counts.notAssessable]),
    ).toEqual([
      ['kyritsis-2016', 0],
      ['grindem-2020', 0],
      ['toole-2017', 0],
      ['gokeler-2017', 0],
      // the old tests of the four hops, and of the quadriceps at 180 and 300 deg/s
      ['wellsandt-2017', 5],
    ])
  })

  it('does not depend on the order of the evidence and lets no number out that is not finite', () => {
    const reversed: Evidence = {
      strength: [...rich.strength].reverse(),
      functional: [...rich.functional].reverse(),
      questionnaires: [...rich.questionnaires].reverse(),
      observations: [...rich.observations].reverse(),
      preInjury: [...rich.preInjury].reverse(),
    }
    for (const set of PUBLISHED_CRITERIA_SETS) {
      expect(evaluateCriteriaSet(set, reversed, CONTEXT)).toEqual(evaluateCriteriaSet(set, rich, CONTEXT))
    }
    fc.assert(
      fc.property(
        fc.double(),
        fc.double(),
        fc.constantFrom(...PUBLISHED_CRITERIA_SETS),
        fc.constantFrom(...[60, 300]),
        (left, right, set, velocityDegS) => {
          const wild = {
            ...rich,
            strength: [
              strength(left, right, { velocityDegS }),
              strength(right, left, { velocityDegS, movement: 'flexion' }),
            ],
            functional: [
              functional('single_hop_distance', 'left', left),
              functional('single_hop_distance', 'right', right),
            ],
          } satisfies Evidence
          let leaks = 0
          JSON.stringify(evaluateCriteriaSet(set, wild, CONTEXT), (_key, value: unknown) => {
            if (typeof value === 'number' && !Number.isFinite(value)) leaks++
            return value
          })
          expect(leaks).toBe(0)
        },
      ),
      { seed: 20261125, numRuns: 500 },
    )
  })
})
