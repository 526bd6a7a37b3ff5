import type { Movement } from '../types.ts'
import type { Comparator, CriteriaSet, Criterion, Population, StrengthSeries, Threshold } from './criteria-set.ts'

/** Version of the shipped sets as a whole; each set has its own version beside it. */
export const PUBLISHED_CRITERIA_VERSION = '2026-11.1'

/**
 * Four weeks, after which a measured value no longer speaks for today. Common practice, no source; none of the publications states
 * a limit, and a clinic sets its own in its copy of a set.
 */
const MAXIMUM_AGE_DAYS = 28

const percent = (value: number): Threshold => ({ value, unit: '%' })
const score = (value: number): Threshold => ({ value, unit: '{score}' })

/** Peak torque, best repetition; without a velocity the source at hand does not name the test. */
function series(movement: Movement, velocityDegS: number | null): StrengthSeries {
  return {
    movement,
    contractionMode: velocityDegS === null ? null : 'isokinetic_concentric',
    velocityDegS,
    measure: 'peakTorque',
    statistic: 'best',
  }
}

function strengthSymmetry(
  key: string,
  comparator: Comparator,
  of: StrengthSeries,
  expression: 'symmetry' | 'deficit' | 'pre_injury_capacity' = 'symmetry',
  threshold = 90,
): Criterion {
  const measure = {
    symmetry: 'peakTorqueSymmetry',
    deficit: 'peakTorqueDeficit',
    pre_injury_capacity: 'estimatedPreInjuryCapacity',
  }
  return {
    kind: 'strength_symmetry',
    key,
    measure: measure[expression],
    expression,
    series: of,
    comparator,
    threshold: percent(threshold),
    comparabilityNeeded: 'comparable_with_caution',
    maximumAgeDays: MAXIMUM_AGE_DAYS,
  }
}

interface Hop {
  readonly key: string
  readonly test: string
  readonly measure: string
  readonly betterWhen: 'higher' | 'lower'
}
const singleHop: Hop = { key: 'single-hop', test: 'single_hop_distance', measure: 'singleHop', betterWhen: 'higher' }
const tripleHop: Hop = { key: 'triple-hop', test: 'triple_hop_distance', measure: 'tripleHop', betterWhen: 'higher' }
const crossoverHop: Hop = {
  key: 'crossover-hop',
  test: 'triple_crossover_hop_distance',
  measure: 'tripleCrossoverHop',
  betterWhen: 'higher',
}
const timedHop: Hop = {
  key: 'timed-hop',
  test: 'six_metre_timed_hop',
  measure: 'sixMetreTimedHop',
  betterWhen: 'lower',
}
const sideHop: Hop = { key: 'side-hop', test: 'side_hop_count', measure: 'sideHop', betterWhen: 'higher' }
const fourHops: readonly Hop[] = [singleHop, tripleHop, crossoverHop, timedHop]

function hopSymmetry(
  hop: Hop,
  comparator: Comparator,
  expression: 'symmetry' | 'pre_injury_capacity' = 'symmetry',
): Criterion {
  const suffix = expression === 'symmetry' ? '' : '-pre-injury-capacity'
  return {
    kind: 'functional_symmetry',
    key: `${hop.key}${suffix}`,
    measure: `${hop.measure}${expression === 'symmetry' ? 'Symmetry' : 'PreInjuryCapacity'}`,
    expression,
    test: hop.test,
    betterWhen: hop.betterWhen,
    comparator,
    threshold: percent(90),
    maximumAgeDays: MAXIMUM_AGE_DAYS,
  }
}

function questionnaire(
  key: string,
  measure: string,
  code: string,
  comparator: Comparator,
  total: number,
  formVersions: readonly string[] | null,
): Criterion {
  return {
    kind: 'questionnaire_total',
    key,
    measure,
    questionnaire: code,
    formVersions,
    comparator,
    threshold: score(total),
    maximumAgeDays: MAXIMUM_AGE_DAYS,
  }
}

function population(description: string, known: Partial<Population> = {}): Population {
  return { description, sex: null, sportLevels: null, ageYears: null, ...known }
}

const kyritsis2016: CriteriaSet = {
  key: 'kyritsis-2016',
  version: 1,
  title: 'Six discharge criteria after anterior cruciate ligament reconstruction in professional athletes',
  citation: 'Kyritsis 2016 BJSM 50:946-51',
  population: population('158 male professional athletes', { sex: 'male', sportLevels: ['professional'] }),
  rule: { kind: 'all' },
  criteria: [
    strengthSymmetry('quadriceps-deficit-60', '<', series('extension', 60), 'deficit', 10),
    hopSymmetry(singleHop, '>'),
    hopSymmetry(tripleHop, '>'),
    hopSymmetry(crossoverHop, '>'),
    {
      kind: 'functional_value',
      key: 'running-t-test',
      measure: 'agilityTRunTime',
      test: 'agility_t_run_time',
      limb: 'none',
      comparator: '<',
      threshold: { value: 11, unit: 's' },
      maximumAgeDays: MAXIMUM_AGE_DAYS,
    },
    {
      kind: 'clinician_observation',
      key: 'on-field-rehabilitation',
      measure: 'onFieldRehabilitation',
      observation: 'on_field_rehabilitation',
      comparator: 'is',
      threshold: 'completed',
      needs: "a clinician's observation that the sport-specific programme was completed",
      maximumAgeDays: null,
    },
  ],
  limits:
    'One observational cohort: not meeting all six went with a hazard ratio of 4.1 (1.9 to 9.2) for graft rupture; 26 of 158 ruptured. The crude risk ratio of the same data is 3.22. The hamstring to quadriceps ratio was associated too, but is no criterion.',
  fromMemory: 'Nothing: thresholds and comparators were read in the table of criteria. The age limit is ours.',
}

const grindem2020: CriteriaSet = {
  key: 'grindem-2020',
  version: 1,
  title: 'Function and strength criteria before level I sport after anterior cruciate ligament reconstruction',
  citation: 'Grindem 2020 BJSM 54:1099-1102',
  population: population('213 athletes'),
  rule: { kind: 'all' },
  criteria: [
    questionnaire('kos-adls', 'kosAdlsTotal', 'kos_adls', '>=', 90, null),
    questionnaire('global-rating', 'globalRating', 'global_rating', '>=', 90, null),
    strengthSymmetry('quadriceps-symmetry-60', '>=', series('extension', 60)),
    ...fourHops.map((hop) => hopSymmetry(hop, '>=')),
  ],
  limits:
    'Observational; the abstract reports a hazard ratio of 0.08 (0.01 to 0.6) for those who met all, and 6.0 (1.6 to 22.6) for level I sport within the first year.',
  fromMemory:
    'The abstract gives the threshold of 90, at or above, and the kinds of test. The velocity of 60 deg/s and the four hop tests are those of the same group earlier, from memory; no threshold is.',
}

const toole2017: CriteriaSet = {
  key: 'toole-2017',
  version: 1,
  title: 'Cutoffs of questionnaire, strength and hop symmetry in young athletes',
  citation: 'Toole 2017 JOSPT 47:825-33',
  population: population('115 young athletes'),
  rule: { kind: 'all' },
  criteria: [
    questionnaire('ikdc', 'ikdcTotal', 'ikdc_subjective', '>=', 90, ['current_87_points']),
    strengthSymmetry('quadriceps-symmetry', '>=', series('extension', null)),
    strengthSymmetry('hamstring-symmetry', '>=', series('flexion', null)),
    ...fourHops.map((hop) => hopSymmetry(hop, '>=')),
  ],
  limits: 'Describes how many meet the cutoffs on return to sport; no claim about later injury is encoded.',
  fromMemory:
    'The abstract gives the thresholds. It does not name the strength test in the text at hand, so every strength test of the latest session counts; which hop tests were used and the form of the questionnaire are from memory.',
}

const gokelerVelocities = [60, 180, 300] as const
const gokeler2017: CriteriaSet = {
  key: 'gokeler-2017',
  version: 1,
  title: 'A battery of strength, hop, movement and questionnaire criteria',
  citation: 'Gokeler 2017 KSSTA 25:192-9',
  population: population('28 patients, 6.5 months after reconstruction'),
  rule: { kind: 'all' },
  criteria: [
    ...gokelerVelocities.map((v) => strengthSymmetry(`quadriceps-symmetry-${v}`, '>', series('extension', v))),
    ...gokelerVelocities.map((v) => strengthSymmetry(`hamstring-symmetry-${v}`, '>', series('flexion', v))),
    {
      kind: 'normalised_torque',
      key: 'quadriceps-per-body-mass-60',
      measure: 'peakTorquePerBodyMass',
      series: { ...series('extension', 60), measure: 'peakTorquePerBodyMass' },
      comparator: '>',
      threshold: { value: 3, unit: 'N.m/kg' },
      maximumAgeDays: MAXIMUM_AGE_DAYS,
    },
    {
      kind: 'strength_ratio',
      key: 'hamstring-quadriceps-ratio-300',
      measure: 'hamstringQuadricepsRatio',
      numerator: series('flexion', 300),
      denominator: series('extension', 300),
      comparator: '>',
      threshold: { bySex: { female: percent(55), male: percent(62.5) } },
      maximumAgeDays: MAXIMUM_AGE_DAYS,
    },
    ...[singleHop, tripleHop, sideHop].map((hop) => hopSymmetry(hop, '>')),
    {
      kind: 'functional_value',
      key: 'landing-error-score',
      measure: 'landingErrorScore',
      test: 'landing_error_score',
      limb: 'none',
      comparator: '<',
      threshold: score(5),
      maximumAgeDays: MAXIMUM_AGE_DAYS,
    },
    {
      kind: 'clinician_observation',
      key: 'ikdc-percentile',
      measure: 'ikdcAgainstHealthyPeers',
      observation: 'subjective_form_within_reference',
      comparator: 'is',
      threshold: 'within_reference',
      needs: "a clinician's observation of where the IKDC total lies among healthy people of the same age and sex",
      maximumAgeDays: MAXIMUM_AGE_DAYS,
    },
    questionnaire('acl-rsi', 'aclRsiTotal', 'acl_rsi', '>', 56, ['12_items']),
  ],
  limits: '28 patients, of whom 2 met all; no claim about later injury.',
  fromMemory:
    'Thresholds and comparators were read in the abstract. That the torque per body mass is of the quadriceps, and the 12-item form of the ACL-RSI, are our reading of it.',
}

const wellsandt2017: CriteriaSet = {
  key: 'wellsandt-2017',
  version: 1,
  title: 'Limb symmetry beside estimated pre-injury capacity',
  citation: 'Wellsandt 2017 JOSPT 47:334-8',
  population: population('70 patients, 6 months after reconstruction'),
  rule: { kind: 'all' },
  criteria: [
    strengthSymmetry('quadriceps-symmetry', '>=', series('extension', null)),
    ...fourHops.map((hop) => hopSymmetry(hop, '>=')),
    strengthSymmetry('quadriceps-pre-injury-capacity', '>=', series('extension', null), 'pre_injury_capacity'),
    ...fourHops.map((hop) => hopSymmetry(hop, '>=', 'pre_injury_capacity')),
  ],
  limits:
    '40 of 70 met 90 % symmetry, 20 met 90 % of estimated pre-injury capacity; sensitivity for a second injury 0.273 against 0.818. Needs a test of the other limb from before the operation.',
  fromMemory:
    'The thresholds were read in the abstract. The names of the four hop tests are from memory; the strength test is left open, because the text at hand does not name it.',
}

/**
 * Published criteria sets, as plain data: those whose exact thresholds and comparators were read in the publication or its abstract.
 *
 * A set is shipped for clinics to weigh, not as advice. Sets of which only memory remains are left out. Mind the comparators:
 * exactly 90 meets Grindem, Toole and Wellsandt (at or above) and does not meet Kyritsis or Gokeler (above).
 */
export const PUBLISHED_CRITERIA_SETS: readonly CriteriaSet[] = [
  kyritsis2016,
  grindem2020,
  toole2017,
  gokeler2017,
  wellsandt2017,
]
