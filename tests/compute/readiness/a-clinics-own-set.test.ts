import { describe, expect, it } from 'vitest'
import { evaluateCriteriaSet } from '../../../src/compute/readiness/index.ts'
import type { CriteriaSet, Criterion, StrengthEvidence, StrengthSeries } from '../../../src/compute/readiness/index.ts'
import { CONTEXT, EVIDENCE, strength } from './made-up-subject.ts'

const series = (
  movement: 'extension' | 'flexion',
  mode: 'concentric' | 'eccentric',
  velocityDegS: number,
): StrengthSeries => ({
  movement,
  contractionMode: `isokinetic_${mode}`,
  velocityDegS,
  measure: 'peakTorque',
  statistic: 'best',
})
const percent = (value: number) =>
  ({ comparator: '>=', threshold: { value, unit: '%' }, maximumAgeDays: null }) as const
const symmetry = (key: string, of: StrengthSeries): Criterion => ({
  ...percent(86),
  kind: 'strength_symmetry',
  key,
  measure: 'peakTorqueSymmetry',
  expression: 'symmetry',
  series: of,
  comparabilityNeeded: 'comparable_with_caution',
})
const ratio = (key: string, numerator: StrengthSeries, denominator: StrengthSeries, threshold: number): Criterion => ({
  ...percent(threshold),
  kind: 'strength_ratio',
  key,
  measure: 'strengthRatio',
  numerator,
  denominator,
})

/** Any two of four below their cut-off are an imbalance; so balance is at least three of four at or above. */
const BALANCE: CriteriaSet = {
  key: 'hamstring-balance',
  version: 1,
  title: 'Hamstring strength balance, any two of four',
  citation: 'Croisier 2008 AJSM 36:1469-75, cut-offs as used by Ardern 2015 JSCR 29:997-1002',
  population: { description: 'professional soccer players', sex: null, sportLevels: null, ageYears: null },
  rule: { kind: 'at_least', count: 3 },
  criteria: [
    symmetry('hamstring-concentric', series('flexion', 'concentric', 60)),
    symmetry('hamstring-eccentric', series('flexion', 'eccentric', 30)),
    ratio('conventional', series('flexion', 'concentric', 60), series('extension', 'concentric', 60), 47),
    ratio('mixed', series('flexion', 'eccentric', 30), series('extension', 'concentric', 240), 80),
  ],
  limits: 'Cut-offs depend on the machine family.',
  fromMemory: '',
}

const test = (of: StrengthSeries, left: number, right: number): StrengthEvidence =>
  strength(left, right, {
    movement: of.movement,
    contractionMode: of.contractionMode!,
    velocityDegS: of.velocityDegS!,
  })

/** The involved limb is the right one. */
const overall = (extensionFast: number) => {
  const evidence = {
    ...EVIDENCE,
    strength: [
      test(series('flexion', 'concentric', 60), 105, 100),
      test(series('flexion', 'eccentric', 30), 125, 120),
      test(series('extension', 'concentric', 60), 230, 220),
      test(series('extension', 'concentric', 240), 165, extensionFast),
    ],
  }
  return evaluateCriteriaSet(BALANCE, evidence, CONTEXT)
}

describe("a clinic's own set, as Croisier 2008 has it: any two of four", () => {
  it('finds 100 over 220 N.m (.4545, below .47) and 120 over 160 (.75, below .80): two, an imbalance', () => {
    const answer = overall(160)
    const observed = answer.criteria.map((criterion) => (criterion.observed as { value: number }).value)
    expect(observed[2]).toBeCloseTo(45.45, 2)
    expect(observed[3]).toBeCloseTo(75, 10)
    expect(answer.counts).toEqual({ met: 2, notMet: 2, notAssessable: 0 })
    expect(answer.overall).toBe('criteria_not_met')
  })

  it('takes one alone for none: 120 over 150 N.m is exactly .80', () => {
    const answer = overall(150)
    expect(answer.counts).toEqual({ met: 3, notMet: 1, notAssessable: 0 })
    expect(answer.overall).toBe('required_criteria_met')
  })
})
