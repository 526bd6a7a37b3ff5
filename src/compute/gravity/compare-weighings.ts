import type { ReasonCode, YesNoUnknown } from '../types.ts'

/** A weighing as far as two of them can be compared. */
export interface WeighingContext {
  readonly momentNm: number
  readonly bodyMassKg: number | null
  readonly leverArmM: number | null
  readonly attachment: string | null
  readonly armTared: YesNoUnknown
}

/**
 * Whether two weighings of like limbs agree: left against right, or today against last time.
 *
 * `no`: more than 3 N.m or more than 20 % of their mean apart (engineering rule, no source): weigh again.
 * `unknown`, with why, where they are not of the same kind: attachment or taring differs or is not known, lever arms more
 * than 10 mm or body masses more than 5 % apart. What is not known on both sides is not held against them, the lever arm
 * and attachment excepted, because 2 kg at 25 cm is 4.9 N.m.
 * Symmetric in its two arguments.
 * What for: a weighing that is wrong by a few N.m moves every ratio of flexors to extensors. Units: N.m, kg, m.
 * Errors: RangeError for a moment that is not finite. Limits: two equally wrong weighings agree.
 *
 * @example compareWeighings(rightToday, leftToday) // { agree: 'yes', reason: null, differenceNm: 0.3, differencePercent: 2.3 }
 */
export function compareWeighings(
  one: WeighingContext,
  other: WeighingContext,
): {
  readonly agree: YesNoUnknown
  readonly reason: ReasonCode | null
  readonly differenceNm: number
  readonly differencePercent: number | null
} {
  if (!Number.isFinite(one.momentNm) || !Number.isFinite(other.momentNm))
    throw new RangeError('momentNm must be finite')
  const differenceNm = Math.abs(one.momentNm - other.momentNm)
  const middle = (one.momentNm + other.momentNm) / 2
  const differencePercent = middle > 0 ? (100 * differenceNm) / middle : null
  const answer = (agree: YesNoUnknown, reason: ReasonCode | null) => ({
    agree,
    reason,
    differenceNm,
    differencePercent,
  })
  if (one.attachment === null || other.attachment === null) return answer('unknown', 'attachment_unknown')
  if (one.attachment !== other.attachment) return answer('unknown', 'attachment_differs')
  if (one.armTared !== other.armTared || one.armTared === 'unknown')
    return answer('unknown', 'taring_differs_or_unknown')
  if (one.leverArmM === null || other.leverArmM === null) return answer('unknown', 'lever_arm_unknown')
  if (Math.abs(one.leverArmM - other.leverArmM) > 0.01 + 1e-9) return answer('unknown', 'lever_arm_differs')
  if (one.bodyMassKg !== null && other.bodyMassKg !== null) {
    const apart = Math.abs(one.bodyMassKg - other.bodyMassKg) / ((one.bodyMassKg + other.bodyMassKg) / 2)
    if (apart > 0.05) return answer('unknown', 'body_mass_differs')
  }
  if (differenceNm > 3 || differencePercent === null || differencePercent > 20) {
    return answer('no', 'weighings_too_far_apart')
  }
  return answer('yes', null)
}
