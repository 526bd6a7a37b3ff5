import type { Measured, ReasonCode } from '../types.ts'
import type { BetterWhen } from '../trends/types.ts'
import type { ComparabilityVerdict } from '../comparability/compare-facts.ts'
import { performanceRatioPct } from './limb-symmetry-index.ts'

/** A stored test of the uninvolved limb from before the injury or the operation. */
export interface PreInjuryBaseline {
  readonly uninvolved: Measured
  readonly resultId: string
  readonly testedWhen: 'pre_injury' | 'pre_operative'
  /** Of that test's setup with today's test of the involved limb. */
  readonly comparability: ComparabilityVerdict
}

export interface EstimatedPreInjuryCapacity {
  readonly estimatedPreInjuryCapacityPct: Measured
  readonly referenceResultId: string | null
  readonly testedWhen: PreInjuryBaseline['testedWhen'] | null
  readonly cautions: readonly ReasonCode[]
}

/**
 * Estimated pre-injury capacity (EPIC): the involved limb today in percent of the uninvolved limb before injury or operation.
 *
 * What for: the LSI flatters when the uninvolved limb has weakened since; this does not. Formula in words: 100 * involved now / uninvolved then (inverted for
 * timed tests). Units: percent. Never clipped. Without a stored test from before: null and `no_pre_injury_test_of_other_limb`; a later test of the
 * uninvolved limb is never put in its place. A baseline that may not be compared is null with a reason.
 * Errors: RangeError for a non-finite number. Source: Wellsandt 2017, J Orthop Sports Phys Ther 47:334-8 (n = 70; 40 met 90 % LSI, 20 met 90 % EPIC).
 * Limits: assumes the limbs were equal before injury; body mass and age move meanwhile.
 * @example involved now 190, uninvolved before 230: 82.6087 (while the LSI against 200 now is 95)
 */
export function estimatedPreInjuryCapacity(input: {
  readonly involvedNow: Measured
  readonly baseline: PreInjuryBaseline | null
  readonly betterWhen: BetterWhen
}): EstimatedPreInjuryCapacity {
  const { involvedNow, baseline, betterWhen } = input
  if (baseline === null) {
    return {
      estimatedPreInjuryCapacityPct: { value: null, reason: 'no_pre_injury_test_of_other_limb' },
      referenceResultId: null,
      testedWhen: null,
      cautions: [],
    }
  }
  const reference = { referenceResultId: baseline.resultId, testedWhen: baseline.testedWhen }
  if (baseline.comparability === 'not_comparable' || baseline.comparability === 'not_assessable') {
    const reason = baseline.comparability === 'not_comparable' ? 'baseline_not_comparable' : 'baseline_not_assessable'
    return { estimatedPreInjuryCapacityPct: { value: null, reason }, ...reference, cautions: [] }
  }
  return {
    estimatedPreInjuryCapacityPct: performanceRatioPct(involvedNow, baseline.uninvolved, betterWhen),
    ...reference,
    cautions: baseline.comparability === 'comparable_with_caution' ? ['comparable_with_caution'] : [],
  }
}
