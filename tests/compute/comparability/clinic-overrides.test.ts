import { describe, it, expect } from 'vitest'
import {
  COMPARABILITY_RULES_VERSION,
  DEFAULT_COMPARABILITY_RULES,
  applyOverrides,
  compareFacts,
} from '../../../src/compute/comparability/index.ts'
import type { RuleOverride } from '../../../src/compute/comparability/index.ts'
import { KNOWN_FACTS } from './known-facts.ts'

const lever = (moreThan: number, effect: 'caution' | 'not_comparable', reason: string | null = null): RuleOverride => ({
  ruleId: 'lever_arm_length',
  limits: [{ moreThan, effect, measures: 'all' }],
  reason,
})
const refusalOf = (override: RuleOverride): string | undefined =>
  applyOverrides(DEFAULT_COMPARABILITY_RULES, [override]).refused[0]?.why

describe('clinic overrides', () => {
  it('take effect without a reason where they are stricter', () => {
    const { rules, refused } = applyOverrides(DEFAULT_COMPARABILITY_RULES, [lever(4, 'not_comparable')])
    expect(refused).toEqual([])
    const other = { ...KNOWN_FACTS, leverArmMm: 305 }
    expect(compareFacts(KNOWN_FACTS, other, 'peakTorque').verdict).toBe('comparable')
    expect(compareFacts(KNOWN_FACTS, other, 'peakTorque', rules)).toMatchObject({
      verdict: 'not_comparable',
      reasons: [{ source: "the clinic's own stricter limit", tolerance: { value: 4, unit: 'mm' } }],
    })
  })

  it('are refused where they are looser anywhere and nobody says why', () => {
    expect(refusalOf(lever(40, 'not_comparable'))).toBe('looser_without_reason')
    expect(refusalOf(lever(4, 'caution'))).toBe('looser_without_reason')
    expect(refusalOf({ ...lever(0, 'not_comparable'), limits: [] })).toBe('looser_without_reason')
    expect(refusalOf(lever(40, 'not_comparable', '  '))).toBe('looser_without_reason')
    const forOneMeasure: RuleOverride = {
      ruleId: 'lever_arm_length',
      limits: [{ moreThan: 0, effect: 'not_comparable', measures: ['peakTorque'] }],
      reason: null,
    }
    expect(refusalOf(forOneMeasure)).toBe('looser_without_reason')
  })

  it('are accepted looser with a recorded reason, which every verdict then shows', () => {
    const { rules } = applyOverrides(DEFAULT_COMPARABILITY_RULES, [lever(40, 'caution', 'long shins, agreed 2026-03')])
    const result = compareFacts(KNOWN_FACTS, { ...KNOWN_FACTS, leverArmMm: 345 }, 'peakTorque', rules)
    expect(result).toMatchObject({
      verdict: 'comparable_with_caution',
      reasons: [{ source: "the clinic's own limit: long shins, agreed 2026-03" }],
    })
  })

  it('are refused for a rule that does not exist or a limit that is no number', () => {
    expect(refusalOf({ ...lever(4, 'caution'), ruleId: 'moon_phase' })).toBe('unknown_rule')
    expect(refusalOf(lever(Number.NaN, 'not_comparable'))).toBe('limit_not_usable')
    expect(refusalOf(lever(-1, 'not_comparable'))).toBe('limit_not_usable')
  })
})

describe('the table of rules', () => {
  it('has a version, unique ids, a source for every row and limits that are numbers', () => {
    expect(COMPARABILITY_RULES_VERSION).toMatch(/^\d{4}-\d{2}\.\d+$/)
    const ids = DEFAULT_COMPARABILITY_RULES.map((rule) => rule.id)
    expect(new Set(ids).size).toBe(ids.length)
    for (const rule of DEFAULT_COMPARABILITY_RULES) {
      expect(rule.source.length).toBeGreaterThan(3)
      expect(rule.limits.length).toBeGreaterThan(0)
      for (const limit of rule.limits) expect(limit.moreThan).toBeGreaterThanOrEqual(0)
    }
  })
})
