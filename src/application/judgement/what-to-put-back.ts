/** From the reasons against a comparison to what can still be done about them before the test. */
import type { Comparability, ComparabilityReason } from '../../compute/index.ts'

export interface PutBack {
  readonly factor: string
  readonly to: ComparabilityReason['before']
  readonly now: ComparabilityReason['now']
}

export interface WhatToDo {
  /** Each of these stands in the way by itself: with any one left, the measure does not compare. */
  readonly putBack: readonly PutBack[]
  /** Void or doubtful as it stands: measured again, it may agree. */
  readonly measureAgain: readonly string[]
  /** The reference does not say: nothing can be put back, and no measurement of today helps. */
  readonly unknownInReference: readonly string[]
}

const AXIS = /^axis_(offset|check_missing|check_missing_on_one_side)$/
const isMeasured = (factor: string): boolean => AXIS.test(factor) || MEASURED.includes(factor)
const MEASURED = ['anatomical_zero', 'gravity_correction']
/** An axis has another word for each way of not being known. */
const sameThing = (a: string, b: string): boolean => a === b || (AXIS.test(a) && AXIS.test(b))

/**
 * `grave`: what forbids a comparison; `caution`: what is left between caution and none. Effects never add up, so each list is minimal.
 * `atBest` is the comparison if all that is measured today came out as in the reference: what it still blames, the reference lacks.
 */
export function whatToPutBack(
  now: Comparability,
  atBest: Comparability,
): { readonly grave: WhatToDo; readonly caution: WhatToDo } {
  const of = (...effects: readonly ComparabilityReason['effect'][]): WhatToDo => {
    const [found, lasting] = [now, atBest].map(({ reasons }) =>
      reasons.filter(({ effect }) => effects.includes(effect)),
    )
    const measured = found!.filter(({ factor }) => isMeasured(factor))
    const rest = found!.filter(({ factor }) => !isMeasured(factor))
    const lacking = lasting!.filter(({ factor }) => isMeasured(factor)).map(({ factor }) => factor)
    return {
      putBack: rest
        .filter(({ before }) => before !== null)
        .map(({ factor, before, now }) => ({ factor, to: before, now })),
      measureAgain: measured
        .map(({ factor }) => factor)
        .filter((factor) => !lacking.some((one) => sameThing(one, factor))),
      unknownInReference: [...rest.filter(({ before }) => before === null).map(({ factor }) => factor), ...lacking],
    }
  }
  return { grave: of('not_comparable', 'not_assessable'), caution: of('caution') }
}
