import { PUBLISHED_CRITERIA_SETS } from '../../../src/compute/readiness/index.ts'
import type {
  CriteriaSet,
  Evidence,
  EvaluationContext,
  FunctionalEvidence,
  LimbValue,
  StrengthEvidence,
} from '../../../src/compute/readiness/index.ts'

export function publishedSet(key: string): CriteriaSet {
  const set = PUBLISHED_CRITERIA_SETS.find((candidate) => candidate.key === key)
  if (set === undefined) throw new Error(`no set ${key}`)
  return set
}

export const AT = '2026-11-17T09:05:00+01:00'

export const CONTEXT: EvaluationContext = {
  on: '2026-11-20',
  involvedSide: 'right',
  otherLimb: 'no_history',
  sex: 'female',
  ageYears: 24,
  sportLevel: null,
  surgeryOn: '2026-02-10',
}

export function limb(value: number, id: string, more: Partial<LimbValue> = {}): LimbValue {
  return {
    resultId: id,
    outcome: { value, unit: 'N.m' },
    standing: 'in_force',
    gravityCorrected: 'yes',
    painDuring: 1,
    ...more,
  }
}

export function strength(left: number, right: number, more: Partial<StrengthEvidence> = {}): StrengthEvidence {
  return {
    sessionId: 'session-1',
    performedAt: AT,
    movement: 'extension',
    contractionMode: 'isokinetic_concentric',
    velocityDegS: 60,
    measure: 'peakTorque',
    statistic: 'best',
    left: limb(left, 'result-left'),
    right: limb(right, 'result-right'),
    limbComparability: 'comparable_with_caution',
    symmetryInterval: null,
    ...more,
  }
}

export function functional(
  test: string,
  side: 'left' | 'right' | null,
  value: number,
  unit = 'cm',
  more: Partial<FunctionalEvidence> = {},
): FunctionalEvidence {
  return {
    functionalResultId: `${test}-${side ?? 'none'}`,
    sessionId: 'session-1',
    performedAt: AT,
    test,
    side,
    outcome: { value, unit },
    standing: 'in_force',
    ...more,
  }
}

/** Invented: an extension of 158.9 against 171.2 N.m, 176.3 before the operation. */
export const EVIDENCE: Evidence = {
  strength: [strength(171.2, 158.9, { symmetryInterval: { low: 83.25, high: 103.47, confidence: 0.95 } })],
  functional: [
    functional('single_hop_distance', 'left', 158),
    functional('single_hop_distance', 'right', 148),
    functional('triple_hop_distance', 'left', 512),
    functional('triple_hop_distance', 'right', 471),
    functional('triple_crossover_hop_distance', 'left', 486),
    functional('triple_crossover_hop_distance', 'right', 431),
    functional('agility_t_run_time', null, 10.62, 's', { performedAt: '2026-11-16T17:30:00+01:00' }),
  ],
  questionnaires: [],
  observations: [],
  preInjury: [
    {
      resultId: 'result-before',
      side: 'left',
      of: {
        movement: 'extension',
        contractionMode: 'isokinetic_concentric',
        velocityDegS: 60,
        measure: 'peakTorque',
        statistic: 'best',
      },
      outcome: { value: 176.3, unit: 'N.m' },
      standing: 'in_force',
      comparability: 'comparable_with_caution',
    },
  ],
}

export const ON_FIELD_DONE = {
  observationId: 'observation-1',
  performedAt: '2026-11-18T10:00:00+01:00',
  observation: 'on_field_rehabilitation',
  finding: 'completed',
  standing: 'in_force',
}

/** Every criterion of the Kyritsis set met. */
export const ALL_MET: Evidence = {
  ...EVIDENCE,
  functional: EVIDENCE.functional.map((item) =>
    item.functionalResultId === 'triple_crossover_hop_distance-right'
      ? { ...item, outcome: { value: 460, unit: 'cm' } }
      : item,
  ),
  observations: [ON_FIELD_DONE],
}
