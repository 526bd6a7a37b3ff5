import { COMPARED_MEASURES } from './facts.ts'
import type { ComparedMeasure } from './facts.ts'
import type { ComparabilityRule, DifferenceEffect, RuleLimit } from './rules.ts'

export interface RuleOverride {
  readonly ruleId: string
  /** Replaces the limits of the rule, in the rule's unit. */
  readonly limits: readonly RuleLimit[]
  /** Needed where the override is looser anywhere. Recorded in the source of every reason it gives. */
  readonly reason: string | null
}

export interface OverriddenRules {
  readonly rules: readonly ComparabilityRule[]
  readonly refused: readonly {
    readonly ruleId: string
    readonly why: 'unknown_rule' | 'limit_not_usable' | 'looser_without_reason'
  }[]
}

const rank: readonly (DifferenceEffect | null)[] = [null, 'note', 'caution', 'not_comparable']

/**
 * Clinic overrides of the comparability rules: the default table with a clinic's own limits put in.
 *
 * A clinic may be stricter at will and looser only with a recorded reason, because a looser rule lets an artefact pass for progress.
 * "Looser" means: some size of difference has a lesser effect on some measure than by default. Refused overrides leave the default
 * in force and are listed; a repeated rule id is judged against the default, and the last accepted one holds.
 * What for: a table that a clinic can stand behind. Units: those of each rule. Errors: none; what is refused is
 * listed. Source: engineering choice, no source. Limits: cannot add rules; a setting's own tolerance is part of its
 * description.
 *
 * @example applyOverrides(DEFAULT_COMPARABILITY_RULES, [
 *   { ruleId: 'lever_arm_length', limits: [{ moreThan: 40, effect: 'caution', measures: 'all' }], reason: null },
 * ]).refused // [{ ruleId: 'lever_arm_length', why: 'looser_without_reason' }]
 */
export function applyOverrides(
  rules: readonly ComparabilityRule[],
  overrides: readonly RuleOverride[],
): OverriddenRules {
  const accepted = new Map<string, ComparabilityRule>()
  const refused: OverriddenRules['refused'][number][] = []
  for (const { ruleId, limits, reason } of overrides) {
    const rule = rules.find((candidate) => candidate.id === ruleId)
    const recorded = reason?.trim() ?? ''
    if (rule === undefined) refused.push({ ruleId, why: 'unknown_rule' })
    else if (!limits.every((limit) => Number.isFinite(limit.moreThan) && limit.moreThan >= 0)) {
      refused.push({ ruleId, why: 'limit_not_usable' })
    } else if (recorded === '' && isLooser(limits, rule.limits)) refused.push({ ruleId, why: 'looser_without_reason' })
    else {
      const source = recorded === '' ? "the clinic's own stricter limit" : `the clinic's own limit: ${recorded}`
      accepted.set(ruleId, { ...rule, limits, source })
    }
  }
  return { rules: rules.map((rule) => accepted.get(rule.id) ?? rule), refused }
}

/** Effects are steps, so it is enough to look just beyond every limit of either table. */
function isLooser(limits: readonly RuleLimit[], than: readonly RuleLimit[]): boolean {
  const steps = [...limits, ...than].map((limit) => limit.moreThan)
  return COMPARED_MEASURES.some((measure) =>
    steps.some((step) => rankJustBeyond(step, measure, limits) < rankJustBeyond(step, measure, than)),
  )
}

function rankJustBeyond(step: number, measure: ComparedMeasure, limits: readonly RuleLimit[]): number {
  const effects = limits
    .filter((limit) => limit.moreThan <= step && (limit.measures === 'all' || limit.measures.includes(measure)))
    .map((limit) => rank.indexOf(limit.effect))
  return Math.max(0, ...effects)
}
