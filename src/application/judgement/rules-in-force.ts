/** The rules that decide whether two tests may be compared: the default table with the clinic's own limits put in. */
import {
  applyOverrides,
  DEFAULT_COMPARABILITY_RULES,
  type ComparabilityRule,
  type RuleOverride,
} from '../../compute/index.ts'
import type { ComparabilityOverridesDocument } from '../../domain/comparability-overrides-document.ts'
import { loadComparabilityOverrides } from '../../store/comparability-overrides-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'

/** As known at an instant. An override that a later release of the table no longer accepts leaves the default in force. */
export async function loadRulesInForce(tx: ClinicTx, knownAt: Date): Promise<readonly ComparabilityRule[]> {
  const row = await loadComparabilityOverrides(tx, knownAt)
  if (row === null) return DEFAULT_COMPARABILITY_RULES
  const { overrides } = row.document as ComparabilityOverridesDocument
  return applyOverrides(DEFAULT_COMPARABILITY_RULES, asOverrides(overrides)).rules
}

export function asOverrides(sent: ComparabilityOverridesDocument['overrides']): readonly RuleOverride[] {
  return sent.map(({ ruleId, limits, reason }) => ({ ruleId, limits, reason: reason ?? null }))
}
