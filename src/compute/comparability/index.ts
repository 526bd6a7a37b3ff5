export { COMPARED_MEASURES } from './facts.ts'
export type {
  AxisFact,
  ComparabilityFacts,
  ComparedMeasure,
  ComparedStatistic,
  SettingFact,
  SettingFactValue,
} from './facts.ts'
export { CLINIC_DESCRIPTION_SOURCE, COMPARABILITY_RULES_VERSION, DEFAULT_COMPARABILITY_RULES } from './rules.ts'
export type { ComparabilityRule, DifferenceEffect, RuleLimit } from './rules.ts'
export type { ComparedStatistics, ReasonValue } from './differences.ts'
export { compareFacts, compareLimbs, factorOfSetting, isFullyKnown } from './compare-facts.ts'
export type { Comparability, ComparabilityReason, ComparabilityVerdict, ReasonEffect } from './compare-facts.ts'
export { applyOverrides } from './clinic-overrides.ts'
export type { OverriddenRules, RuleOverride } from './clinic-overrides.ts'
