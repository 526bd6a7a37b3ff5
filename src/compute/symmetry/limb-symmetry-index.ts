import type { Measured, ReasonCode, Side, YesNoUnknown } from '../types.ts'
import type { BetterWhen } from '../trends/types.ts'
import type { ComparabilityVerdict } from '../comparability/compare-facts.ts'

/** What is known of the limb that serves as denominator. */
export interface OtherLimb {
  /** Same joint; both_involved where the episode has two involved limbs. */
  readonly history: 'none' | 'injury' | 'surgery' | 'both_involved' | 'unknown'
  /** Whether the graft of the involved limb was taken from this one. */
  readonly gaveGraft: YesNoUnknown
}

export interface LimbSymmetryInput {
  readonly left: Measured
  readonly right: Measured
  /** The numerator. */
  readonly involvedSide: Side
  /** lower for timed tests: the index is inverted so that below 100 always means the involved limb does worse. */
  readonly betterWhen: BetterWhen
  readonly otherLimb: OtherLimb
  /** Whether both limbs were tested in setups that may be compared. */
  readonly setupsMatch: ComparabilityVerdict
}

export interface LimbSymmetry {
  readonly limbSymmetryIndexPct: Measured
  /** 100 - index; negative when the involved limb does better. */
  readonly deficitPct: Measured
  readonly weakerSide: Side | 'equal' | null
  readonly cautions: readonly ReasonCode[]
}

/**
 * Why the other limb cannot serve as denominator (`refusal`), or what to say beside the index (`cautions`).
 *
 * The rule, in full: both limbs involved, surgery of the same joint, or the graft taken from it: refused, a symmetric pair of weak limbs would look
 * good. An injury without surgery, or anything unknown: flagged. Source: engineering choice after Wellsandt 2017, J Orthop Sports Phys
 * Ther 47:334-8 (the uninvolved limb weakens too); no published rule.
 * Errors: none.
 * What for: whether the other limb may stand as reference. Units: none. Limits: knows what the episode says, no more.
 *
 * @example otherLimbVerdict({ history: 'none', gaveGraft: 'yes' }) // { refusal: 'other_limb_gave_graft', cautions: [] }
 */
export function otherLimbVerdict(otherLimb: OtherLimb): {
  readonly refusal: ReasonCode | null
  readonly cautions: readonly ReasonCode[]
} {
  if (otherLimb.history === 'both_involved') return { refusal: 'both_limbs_involved', cautions: [] }
  if (otherLimb.history === 'surgery') return { refusal: 'other_limb_had_surgery', cautions: [] }
  if (otherLimb.gaveGraft === 'yes') return { refusal: 'other_limb_gave_graft', cautions: [] }
  const cautions: ReasonCode[] = []
  if (otherLimb.history === 'injury') cautions.push('other_limb_has_history')
  if (otherLimb.history === 'unknown') cautions.push('other_limb_history_unknown')
  if (otherLimb.gaveGraft === 'unknown') cautions.push('graft_side_unknown')
  return { refusal: null, cautions }
}

/** 100 * performance of one over performance of the other; a time is inverted. Bad data are a reason. */
export function performanceRatioPct(numerator: Measured, denominator: Measured, betterWhen: BetterWhen): Measured {
  if (numerator.value === null) return numerator
  if (denominator.value === null) return denominator
  if (!Number.isFinite(numerator.value) || !Number.isFinite(denominator.value)) {
    throw new RangeError('values are finite numbers')
  }
  if (numerator.value < 0 || denominator.value < 0) return { value: null, reason: 'negative_value' }
  const [over, under] =
    betterWhen === 'higher' ? [numerator.value, denominator.value] : [denominator.value, numerator.value]
  const value = 100 * (over / under)
  return Number.isFinite(value) ? { value } : { value: null, reason: 'zero_denominator' }
}

/**
 * Limb symmetry index (LSI): the involved limb's result in percent of the other limb's.
 *
 * Formula in words: 100 * involved / other; for timed tests 100 * other / involved, so that below 100 always means worse. Never clipped: 104 stays 104.
 * Deficit = 100 - index. Units: percent; the two inputs share a unit. Convention: magnitudes, not signed torques.
 * Bad data are null with a reason: a missing side (its own reason), `zero_denominator`, `negative_value`, setups that may not be compared, and the refusals
 * of `otherLimbVerdict`. Errors: RangeError for a non-finite number.
 * Source: Noyes 1991, Am J Sports Med 19:513-8. Limits: the other limb weakens too (Wellsandt 2017, J Orthop Sports Phys Ther 47:334-8), and healthy
 * people are not symmetric (Markstrom 2022, Sports Health 15:45-51): read it with both limbs in N.m/kg and with its interval (`limbSymmetryInterval`).
 * When not to use it: alone, or where the other limb was operated on.
 * What for: one limb in the measure of the other.
 * @example left 200, right 190, right involved: index 95, deficit 5, weakerSide right. Timed hop left 2.00 s, right 2.20 s: 90.9091
 */
export function limbSymmetryIndex(input: LimbSymmetryInput): LimbSymmetry {
  const { left, right, involvedSide, betterWhen, otherLimb, setupsMatch } = input
  const [involved, other] = involvedSide === 'left' ? [left, right] : [right, left]
  const verdict = otherLimbVerdict(otherLimb)
  const withheld = (reason: ReasonCode): LimbSymmetry => ({
    limbSymmetryIndexPct: { value: null, reason },
    deficitPct: { value: null, reason },
    weakerSide: null,
    cautions: verdict.cautions,
  })
  if (verdict.refusal !== null) return withheld(verdict.refusal)
  // A side that is missing has no setup to compare either: what is missing is the reason.
  if (involved.value === null) return withheld(involved.reason)
  if (other.value === null) return withheld(other.reason)
  if (setupsMatch === 'not_comparable') return withheld('setups_not_comparable')
  if (setupsMatch === 'not_assessable') return withheld('setups_not_assessable')
  const index = performanceRatioPct(involved, other, betterWhen)
  if (index.value === null) return withheld(index.reason)
  const otherSide: Side = involvedSide === 'left' ? 'right' : 'left'
  return {
    limbSymmetryIndexPct: index,
    deficitPct: { value: 100 - index.value },
    weakerSide: index.value < 100 ? involvedSide : index.value > 100 ? otherSide : 'equal',
    cautions:
      setupsMatch === 'comparable_with_caution' ? [...verdict.cautions, 'comparable_with_caution'] : verdict.cautions,
  }
}
