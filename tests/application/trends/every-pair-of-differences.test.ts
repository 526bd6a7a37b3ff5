/**
 * Every two facts of the comparability key, changed together in the second of two tests: where either forbids it no change is
 * drawn, and both are named. Each fact of the key has its line here, so a new one cannot be forgotten.
 */
import { describe, expect, it } from 'vitest'
import { MEASURE_REVISION, type ComparabilityFacts } from '../../../src/compute/index.ts'
import { compareMeasure } from '../../../src/application/judgement/compare-results.ts'
import type { History } from '../../../src/application/judgement/history.ts'
import { describeTrend } from '../../../src/application/trends/describe-trend.ts'
import { DEFAULT_COMPARABILITY_RULES } from '../../../src/compute/index.ts'
import { parseSeriesKey } from '../../../src/domain/series.ts'
import type { JudgedResultRow } from '../../../src/store/result-store.ts'
import { KNOWN_FACTS, setting } from '../../compute/comparability/known-facts.ts'

type Fact = Exclude<keyof ComparabilityFacts, 'side' | 'deviceFamily' | 'processingKey'> | 'processing'
type Effect = 'note' | 'caution' | 'not_assessable' | 'not_comparable'
interface Difference {
  readonly value: unknown
  readonly factor: string
  readonly effect: Effect
}

const differs = (value: unknown, factor: string, effect: Effect): Difference => ({ value, factor, effect })
const GRAVE: readonly Effect[] = ['not_comparable', 'not_assessable']

/** The worst difference of each fact in peak torque. The family matters beside another machine only, and goes with it. */
const WORST: Readonly<Record<Fact, Difference>> = {
  joint: differs('hip', 'joint', 'not_comparable'),
  movement: differs('flexion', 'movement', 'not_comparable'),
  contractionMode: differs('isokinetic_eccentric', 'contraction_mode', 'not_comparable'),
  contractionScheme: differs('single_direction', 'contraction_scheme', 'not_comparable'),
  velocityDegS: differs(90, 'velocity', 'not_comparable'),
  intendedRepetitions: differs(3, 'intended_repetitions', 'caution'),
  dynamometerId: differs(null, 'dynamometer', 'not_assessable'),
  descriptionVersion: differs(4, 'description_version', 'note'),
  attachment: differs('two-pad', 'attachment', 'not_comparable'),
  leverArmMm: differs(330, 'lever_arm_length', 'not_comparable'),
  padMountedOn: differs('shin', 'pad_mounted_on', 'caution'),
  bodyPosition: differs('prone', 'body_position', 'not_comparable'),
  settings: differs([setting('backrestAngle', { kind: 'quantity', value: 60, unit: 'deg' }, { tolerance: 5 }), setting('seatDepth', { kind: 'quantity', value: 42, unit: 'cm' })], 'backrest_angle', 'not_comparable'), // prettier-ignore
  trunkStraps: differs('none', 'trunk_straps', 'not_comparable'),
  thighStrap: differs('none', 'thigh_strap', 'not_comparable'),
  otherLimbStabiliser: differs('not_used', 'other_limb_stabiliser', 'not_comparable'),
  lumbarSupport: differs('cushion', 'lumbar_support', 'caution'),
  hands: differs(null, 'hands', 'not_assessable'),
  stops: differs({ firstDeg: 20, secondDeg: 95 }, 'range_of_motion', 'caution'),
  anatomicalZero: differs({ readingDeg: 8, afterLastAdjustment: 'yes' }, 'anatomical_zero', 'caution'),
  axis: differs(null, 'axis_check_missing_on_one_side', 'caution'),
  gravityCorrected: differs('no', 'gravity_correction', 'not_comparable'),
  deviceFilter: differs('applied', 'device_filter', 'caution'),
  deviceWindowing: differs('applied', 'device_windowing', 'caution'),
  processing: differs({ paramsHash: 'other', revisions: MEASURE_REVISION }, 'processing', 'caution'),
  verbalEncouragement: differs('none', 'verbal_encouragement', 'caution'),
  visualFeedback: differs('torque_curve', 'visual_feedback', 'caution'),
  familiarisation: differs('none', 'familiarisation', 'caution'),
  startMinuteOfDay: differs(15 * 60, 'start_time_of_day', 'note'),
  operator: differs('ST-15', 'operator', 'note'),
  restBeforeS: differs(20, 'rest_before', 'caution'),
  limbOrder: differs('involved_first', 'limb_order', 'note'),
  velocityOrder: differs('descending', 'velocity_order', 'note'),
  warmUp: differs('none', 'warm_up', 'note'),
  analgesics: differs('yes', 'analgesics', 'note'),
  painDuring: differs(5, 'pain_during', 'not_comparable'),
  bodyMassKg: differs(90, 'body_mass', 'caution'),
}

/** Body mass bears on what is divided by it, and on nothing else. */
const measureOf = (facts: readonly Fact[]) => (facts.includes('bodyMassKg') ? 'peakTorquePerBodyMass' : 'peakTorque')

const SERIES = 'knee/extension/isokinetic_concentric/reciprocal/60'
const OF_THE_VISIT: readonly string[] = ['startMinuteOfDay', 'operator', 'limbOrder', 'velocityOrder', 'warmUp', 'painDuring', 'bodyMassKg', 'familiarisation', 'verbalEncouragement', 'visualFeedback', 'analgesics'] // prettier-ignore

/** A stored result: 150 N.m first, 190 N.m in the second test. */
function test(ordinal: 1 | 2, changed: readonly Fact[]): JudgedResultRow {
  const { side, processingKey: _, ...known } = KNOWN_FACTS
  const facts = { ...known, processing: { paramsHash: 'same', revisions: MEASURE_REVISION }, ...Object.fromEntries(changed.map((fact) => [fact, WORST[fact].value])) } // prettier-ignore
  const ofVisit = ([name]: readonly [string, unknown]): boolean => OF_THE_VISIT.includes(name)
  const entries = Object.entries(facts)
  const startedAt = `2026-0${4 + ordinal}-05T09:05:00+02:00`
  const best = (value: number, unit: string) => ({ best: { value, unit } })
  return {
    id: `result ${ordinal}`,
    sessionId: `session ${ordinal}`,
    subjectId: 'subject',
    series: SERIES,
    side,
    testedAt: new Date(startedAt),
    startedAt,
    measures: {
      peakTorque: best(110 + 40 * ordinal, 'N.m'),
      peakTorquePerBodyMass: best(1.6 + 0.6 * ordinal, 'N.m/kg'),
    },
    visitFacts: Object.fromEntries(entries.filter(ofVisit)),
    keyFacts: Object.fromEntries(entries.filter((entry) => !ofVisit(entry))),
  } as unknown as JudgedResultRow
}

const RECORDED = { recordedAt: new Date(0), recordedBy: 'somebody', version: 1 }

function historyOf(results: readonly JudgedResultRow[]): History {
  const error = (measure: string, sem: number) => ({ id: measure, series: SERIES, measure, scale: 'absolute' as const, sem, degreesOfFreedom: 24, pairs: 24, source: 'own', limbCondition: 'operated' as const, meanShiftDetected: false, operatorId: null, dynamometerId: null, recordedAt: new Date(0) }) // prettier-ignore
  return {
    subject: { id: 'subject', sex: 'female', heightM: null, document: {}, ...RECORDED },
    episode: { id: 'episode', subjectId: 'subject', joint: 'knee', involvedSide: 'right', status: 'active', injuredOn: null, surgeryOn: '2026-02-10', criteriaSet: null, baselineSessionId: null, document: {}, supersededAt: null, ...RECORDED }, // prettier-ignore
    results,
    flags: [],
    clinicErrors: [error('peakTorque', 5), error('peakTorquePerBodyMass', 0.05)],
    rules: DEFAULT_COMPARABILITY_RULES,
    knownAt: new Date('2026-11-01'),
  }
}

function trendOf(changed: readonly Fact[]) {
  const results = [test(1, []), test(2, changed)] as const
  const measure = measureOf(changed)
  const ask = { subjectId: 'subject', series: parseSeriesKey(SERIES), side: 'right', measure, statistic: 'best', confidence: 0.95, from: null, to: null, comparability: null, threshold: null, asKnownAt: null } as const // prettier-ignore
  const trend = describeTrend(historyOf(results), ask)
  return { ...trend, compared: compareMeasure(...results, measure, DEFAULT_COMPARABILITY_RULES) }
}

const FACTS = Object.keys(WORST) as Fact[]
const PAIRS = FACTS.flatMap((a, i) => FACTS.slice(i + 1).map((b) => [a, b] as const))

function expectNamedAndJudged(changed: readonly Fact[]): void {
  const { points, splits, compared } = trendOf(changed)
  const expected = changed.map((fact) => WORST[fact])
  const named = compared.reasons.map(({ factor, effect }) => `${factor} ${effect}`)
  expect(named.sort(), changed.join()).toEqual(expected.map(({ factor, effect }) => `${factor} ${effect}`).sort())
  const change = points[1]?.changeFromPrevious ?? null
  if (expected.some(({ effect }) => GRAVE.includes(effect))) {
    expect([change, points[1]?.changeFromRunStart], changed.join()).toEqual([null, null])
    expect(splits, changed.join()).toHaveLength(1)
    expect(splits[0]?.reasons.map(({ factor }) => factor).sort()).toEqual(expected.map(({ factor }) => factor).sort())
  } else {
    const careful = expected.some(({ effect }) => effect === 'caution')
    expect([change?.verdict, change?.cautions, splits], changed.join()).toEqual(['increased', careful ? ['comparable_with_caution'] : [], []]) // prettier-ignore
  }
}

describe('two tests 40 N.m apart', () => {
  it('of one key are a change, with nothing to say about it', () => {
    const { points, splits, compared } = trendOf([])
    expect(points[1]?.changeFromPrevious).toMatchObject({ verdict: 'increased', cautions: [] })
    expect([splits, compared.reasons]).toEqual([[], []])
  })

  it('have a line here for every fact of the key', () => {
    const { side: _, deviceFamily: __, processingKey: ___, ...facts } = { ...KNOWN_FACTS, processing: null }
    expect(Object.keys(facts).sort()).toEqual(FACTS.toSorted())
  })

  it.each(FACTS)('that differ in %s alone: it is named, and decides whether there is a change', (fact) =>
    expectNamedAndJudged([fact]),
  )

  it(`that differ in any two of them: both are named, and the graver decides (${PAIRS.length} pairs)`, () => {
    expect(PAIRS).toHaveLength((FACTS.length * (FACTS.length - 1)) / 2)
    for (const pair of PAIRS) expectNamedAndJudged(pair)
  })
})
