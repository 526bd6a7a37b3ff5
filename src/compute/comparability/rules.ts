import type { ComparedMeasure } from './facts.ts'

/** Version of this table and of how facts are held against it: part of every frozen verdict; a change of either is a new one. */
export const COMPARABILITY_RULES_VERSION = '2026-11.3'

export type DifferenceEffect = 'note' | 'caution' | 'not_comparable'

export interface RuleLimit {
  /**
   * The effect holds for differences GREATER than this. In the rule's unit for quantities; for words the size of a difference
   * is 1 (2 where the rule's comparison names a grave kind of difference), so 0 means "any difference".
   */
  readonly moreThan: number
  readonly effect: DifferenceEffect
  readonly measures: 'all' | readonly ComparedMeasure[]
}

/** How two facts become one size of difference; see differences.ts. */
export type Comparison =
  | { readonly kind: 'word'; readonly fact: WordFact }
  | { readonly kind: 'number'; readonly fact: NumberFact }
  | { readonly kind: 'percent'; readonly fact: NumberFact }
  | { readonly kind: 'clock' }
  | { readonly kind: 'dynamometer' }
  | { readonly kind: 'thigh_strap' }
  | { readonly kind: 'stops' }
  | { readonly kind: 'anatomical_zero' }
  | { readonly kind: 'axis' }
  | { readonly kind: 'familiarisation' }
  | { readonly kind: 'short_rest' }
  | { readonly kind: 'pain_above' }
  | { readonly kind: 'statistic' }
  | { readonly kind: 'setting' }

export type WordFact =
  | 'joint'
  | 'side'
  | 'movement'
  | 'contractionMode'
  | 'contractionScheme'
  | 'attachment'
  | 'padMountedOn'
  | 'bodyPosition'
  | 'trunkStraps'
  | 'otherLimbStabiliser'
  | 'lumbarSupport'
  | 'hands'
  | 'gravityCorrected'
  | 'deviceFilter'
  | 'deviceWindowing'
  | 'processingKey'
  | 'verbalEncouragement'
  | 'visualFeedback'
  | 'operator'
  | 'limbOrder'
  | 'velocityOrder'
  | 'warmUp'
  | 'analgesics'

export type NumberFact = 'velocityDegS' | 'intendedRepetitions' | 'descriptionVersion' | 'leverArmMm' | 'bodyMassKg'

export interface ComparabilityRule {
  readonly id: string
  /** The word in a reason's `factor`. */
  readonly factor: string
  readonly compares: Comparison
  /** UCUM unit of the limits where the difference is a quantity; null for words. */
  readonly unit: string | null
  readonly limits: readonly RuleLimit[]
  /**
   * What an unknown fact does. Absent: as much as the worst difference could do (not_comparable becomes not_assessable), so that
   * leaving a field out never improves a verdict. Stated only where a row departs from that.
   */
  readonly unknown?: 'caution'
  /** A citation, "common practice, no source" or "from memory". */
  readonly source: string
}

const angleSpecific: readonly ComparedMeasure[] = ['torqueAtAngle', 'angleOfPeakTorque']
const overTheRange: readonly ComparedMeasure[] = [
  'workPerRepetition',
  'totalWork',
  'averagePower',
  'impulse',
  'workPerBodyMass',
  'averagePowerPerBodyMass',
  'workFatigueThirds',
  'rangeOfMotion',
  'loadRange',
  'loadRangeDuration',
]
const perBodyMass: readonly ComparedMeasure[] = ['peakTorquePerBodyMass', 'workPerBodyMass', 'averagePowerPerBodyMass']
const overAllRepetitions: readonly ComparedMeasure[] = [
  'totalWork',
  'fatigueIndexEdges',
  'workFatigueThirds',
  'fatigueSlope',
]

const COMMON = 'common practice, no source'
const MAGNUSSON = 'Magnusson 1993 JAT 28:221-4'
const OTTEN = 'Otten 2013 Sports Health 5:137-42'
const SEAT_ANGLE = 'Sports Med Open 2021 7: s40798-021-00330-w'

const anyDifference = (effect: DifferenceEffect): readonly RuleLimit[] => [{ moreThan: 0, effect, measures: 'all' }]

function word(id: string, fact: WordFact, effect: DifferenceEffect, source: string): ComparabilityRule {
  return { id, factor: id, compares: { kind: 'word', fact }, unit: null, limits: anyDifference(effect), source }
}

/**
 * Default comparability rules: what a difference between two tests does to a comparison, factor by factor.
 *
 * The limits are proposals of this project, built on the effects found in the sources named; none of the sources publishes a
 * tolerance for reproduction. "Common practice, no source" says that nothing published stands behind a row. A clinic may make any
 * row stricter, or looser with a recorded reason (see clinic-overrides.ts).
 */
export const DEFAULT_COMPARABILITY_RULES: readonly ComparabilityRule[] = [
  // The identity of the test: without these there is no common quantity at all
  word('joint', 'joint', 'not_comparable', COMMON),
  word('side', 'side', 'not_comparable', COMMON),
  word('movement', 'movement', 'not_comparable', COMMON),
  word('contraction_mode', 'contractionMode', 'not_comparable', COMMON),
  word('contraction_scheme', 'contractionScheme', 'not_comparable', 'from memory'),
  {
    id: 'velocity',
    factor: 'velocity',
    compares: { kind: 'number', fact: 'velocityDegS' },
    unit: 'deg/s',
    // Half a degree per second absorbs a set speed sent in rounded rad/s (1.047 rad/s is 59.99 deg/s)
    limits: [{ moreThan: 0.5, effect: 'not_comparable', measures: 'all' }],
    source: 'Rosene 2001 J Athl Train 36:378-83',
  },
  {
    id: 'statistic',
    factor: 'statistic',
    compares: { kind: 'statistic' },
    unit: null,
    limits: anyDifference('not_comparable'),
    source: COMMON,
  },
  {
    id: 'repetitions',
    factor: 'intended_repetitions',
    compares: { kind: 'number', fact: 'intendedRepetitions' },
    unit: '{repetition}',
    limits: [
      // The best of five lies about 1.6 % above the best of three at a coefficient of variation of 5 % (order statistics)
      { moreThan: 0, effect: 'caution', measures: 'all' },
      { moreThan: 0, effect: 'not_comparable', measures: overAllRepetitions },
    ],
    source: 'derived from order statistics, no source',
  },

  // The machine and how the limb is attached to it
  {
    id: 'dynamometer',
    factor: 'dynamometer',
    compares: { kind: 'dynamometer' },
    unit: null,
    // size 1: another machine of the same family; 2: another family
    limits: [
      { moreThan: 0, effect: 'caution', measures: 'all' },
      { moreThan: 1, effect: 'not_comparable', measures: 'all' },
    ],
    source: COMMON,
  },
  {
    id: 'description_version',
    factor: 'description_version',
    compares: { kind: 'number', fact: 'descriptionVersion' },
    unit: null,
    limits: anyDifference('note'),
    source: COMMON,
  },
  word('attachment', 'attachment', 'not_comparable', OTTEN),
  {
    id: 'lever_arm_length',
    factor: 'lever_arm_length',
    compares: { kind: 'number', fact: 'leverArmMm' },
    unit: 'mm',
    limits: [
      { moreThan: 10, effect: 'caution', measures: 'all' },
      { moreThan: 20, effect: 'not_comparable', measures: 'all' },
    ],
    source: OTTEN,
  },
  word('pad_mounted_on', 'padMountedOn', 'caution', 'Isokinet Exerc Sci 1997 6(4), doi 10.3233/IES-1997-6404'),

  // The position and what holds the body in it
  word('body_position', 'bodyPosition', 'not_comparable', 'PMC6101381'),
  settingRule('backrest_angle'),
  settingRule('hip_angle'),
  word('trunk_straps', 'trunkStraps', 'not_comparable', MAGNUSSON),
  {
    id: 'thigh_strap',
    factor: 'thigh_strap',
    compares: { kind: 'thigh_strap' },
    unit: null,
    // size 1: another tension; 2: strapped against not strapped
    limits: [
      { moreThan: 0, effect: 'caution', measures: 'all' },
      { moreThan: 1, effect: 'not_comparable', measures: 'all' },
    ],
    source: OTTEN,
  },
  word('other_limb_stabiliser', 'otherLimbStabiliser', 'not_comparable', COMMON),
  word('lumbar_support', 'lumbarSupport', 'caution', COMMON),
  word('hands', 'hands', 'not_comparable', MAGNUSSON),
  {
    id: 'range_of_motion',
    factor: 'range_of_motion',
    compares: { kind: 'stops' },
    unit: 'deg',
    limits: [
      { moreThan: 5, effect: 'caution', measures: 'all' },
      { moreThan: 10, effect: 'not_comparable', measures: overTheRange },
    ],
    source: COMMON,
  },
  {
    id: 'anatomical_zero',
    factor: 'anatomical_zero',
    compares: { kind: 'anatomical_zero' },
    unit: 'deg',
    limits: [
      { moreThan: 3, effect: 'caution', measures: 'all' },
      { moreThan: 5, effect: 'not_comparable', measures: angleSpecific },
    ],
    source: COMMON,
  },
  {
    id: 'axis_offset',
    factor: 'axis_offset',
    compares: { kind: 'axis' },
    unit: 'mm',
    limits: [
      { moreThan: 10, effect: 'caution', measures: 'all' },
      { moreThan: 20, effect: 'not_comparable', measures: angleSpecific },
    ],
    source:
      'derived from the geometry of the linkage; J Biomech 2011 44:2595-600 for how far a palpated axis can be off',
  },
  word(
    'gravity_correction',
    'gravityCorrected',
    'not_comparable',
    'Winter, Wells & Orr 1981 Eur J Appl Physiol 46:397-408',
  ),

  // What was done to the signal
  word('device_filter', 'deviceFilter', 'caution', 'Murray 1986 Med Sci Sports Exerc 18:603-11'),
  word('device_windowing', 'deviceWindowing', 'caution', 'Findley 2006 JSSM 5:400-6'),
  word('processing', 'processingKey', 'caution', 'Murray 1986 Med Sci Sports Exerc 18:603-11'),

  // What was said, shown and done around it
  word('verbal_encouragement', 'verbalEncouragement', 'caution', 'Rendos 2019 JSCR 33:708-16'),
  word('visual_feedback', 'visualFeedback', 'caution', 'Kim & Kramer 1997 JOSPT 26:318'),
  {
    id: 'familiarisation',
    factor: 'familiarisation',
    compares: { kind: 'familiarisation' },
    unit: null,
    // size 1: earlier session against same session; 2: first-ever test against one after familiarisation
    limits: [
      { moreThan: 0, effect: 'note', measures: 'all' },
      { moreThan: 1, effect: 'caution', measures: 'all' },
    ],
    source: 'McCleary & Andersen 1992 JAT 27:362-5',
  },
  {
    id: 'rest_before',
    factor: 'rest_before',
    compares: { kind: 'short_rest' },
    unit: 's',
    // the size is by how much the shorter of two unequal rests falls below 60 s
    limits: anyDifference('caution'),
    source: 'PMC5764011',
  },
  {
    id: 'body_mass',
    factor: 'body_mass',
    compares: { kind: 'percent', fact: 'bodyMassKg' },
    unit: '%',
    limits: [{ moreThan: 5, effect: 'caution', measures: perBodyMass }],
    source: COMMON,
  },
  {
    id: 'pain_during',
    factor: 'pain_during',
    compares: { kind: 'pain_above' },
    unit: '{score}',
    // a test under pain above 3/10 does not show the muscle's strength, whatever it is compared with
    limits: [{ moreThan: 3, effect: 'not_comparable', measures: 'all' }],
    // Many older records hold no pain score: said on every comparison, without blanking a whole history. Readiness is stricter.
    unknown: 'caution',
    source: 'BMJ Open Sport Exerc Med consensus, table 3 (pain above 3 stops a test)',
  },
  {
    id: 'start_time_of_day',
    factor: 'start_time_of_day',
    compares: { kind: 'clock' },
    unit: 'h',
    limits: [{ moreThan: 3, effect: 'note', measures: 'all' }],
    source: 'from memory',
  },
  word('operator', 'operator', 'note', COMMON),
  word('limb_order', 'limbOrder', 'note', 'BMJ Open Sport Exerc Med consensus, table 3'),
  word('velocity_order', 'velocityOrder', 'note', COMMON),
  word('warm_up', 'warmUp', 'note', COMMON),
  // They mask the pain that limits a test
  word('analgesics', 'analgesics', 'note', COMMON),
]

/** Source named for a setting that only the clinic's own description knows. */
export const CLINIC_DESCRIPTION_SOURCE = "the clinic's own description of its machine"

/** An angle at the hip, set by the backrest: one study compared 10 with 90 deg and found lower torque extended, in flexion more. */
function settingRule(factor: string): ComparabilityRule {
  return {
    id: factor,
    factor,
    compares: { kind: 'setting' },
    unit: 'deg',
    limits: [
      { moreThan: 5, effect: 'caution', measures: 'all' },
      { moreThan: 15, effect: 'not_comparable', measures: 'all' },
    ],
    source: SEAT_ANGLE,
  }
}
