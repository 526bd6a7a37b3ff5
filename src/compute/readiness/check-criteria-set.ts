import { unitKind } from '../units/index.ts'
import type { CriteriaSet, Criterion, Threshold } from './criteria-set.ts'

/**
 * Soundness of a criteria set: throws a RangeError that names the fault, so that no set can be met by accident.
 *
 * A set without criteria would be met by everyone, a rule asking for none likewise, and a threshold that is no number by no one.
 * What for: local sets are written by hand. Units: thresholds in those of the kind of criterion. Source: engineering
 * choice, no source. Limits: judges the form, never whether a threshold is a good one.
 *
 * @example checkCriteriaSet({ ...set, criteria: [] }) // RangeError: criteria set "x" has no criteria
 */
export function checkCriteriaSet(set: CriteriaSet): void {
  const fault = (text: string): never => {
    throw new RangeError(`criteria set "${set.key}" ${text}`)
  }
  if (set.criteria.length === 0) fault('has no criteria')
  const keys = set.criteria.map((criterion) => criterion.key)
  if (new Set(keys).size !== keys.length) fault('names a criterion twice')
  if (set.rule.kind === 'at_least') {
    const { count } = set.rule
    if (!Number.isInteger(count) || count < 1 || count > keys.length)
      fault(`asks for ${count} of ${keys.length} criteria`)
  }
  for (const criterion of set.criteria) {
    const age = criterion.maximumAgeDays
    if (age !== null && !(Number.isFinite(age) && age >= 0)) fault(`has an unusable maximum age in "${criterion.key}"`)
    for (const threshold of thresholdsOf(criterion)) {
      if (!Number.isFinite(threshold.value)) fault(`has a threshold that is no number in "${criterion.key}"`)
      if (unitKind(threshold.unit) !== kindOf(criterion, threshold))
        fault(`has a threshold in the wrong unit in "${criterion.key}"`)
    }
  }
}

function thresholdsOf(criterion: Criterion): readonly Threshold[] {
  if (criterion.kind === 'clinician_observation') return []
  return 'bySex' in criterion.threshold ? Object.values(criterion.threshold.bySex) : [criterion.threshold]
}

/** Values are compared in these units, so a threshold in another one would be compared with the wrong number. */
function kindOf(criterion: Criterion, threshold: Threshold): string | null {
  switch (criterion.kind) {
    case 'strength_symmetry':
    case 'strength_ratio':
    case 'functional_symmetry':
      return threshold.unit === '%' ? 'proportion' : 'per cent'
    case 'normalised_torque':
      return threshold.unit === 'N.m/kg' ? 'torque_per_body_mass' : 'newton metre per kilogram'
    case 'questionnaire_total':
      return 'score'
    case 'time_since_surgery':
      return 'duration'
    case 'functional_value':
      return unitKind(threshold.unit) ?? 'any accepted unit'
    case 'clinician_observation':
      return null
  }
}
