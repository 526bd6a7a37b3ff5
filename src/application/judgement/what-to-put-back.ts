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
  /** The reference does not say: nothing can be put back. */
  readonly unknownInReference: readonly string[]
}

const MEASURED = /^(anatomical_zero|axis_offset|axis_check_missing|axis_check_missing_on_one_side|gravity_correction)$/

/** `grave`: what forbids a comparison; `caution`: what is left between caution and none. Effects never add up, so each list is minimal. */
export function whatToPutBack({ reasons }: Comparability): { readonly grave: WhatToDo; readonly caution: WhatToDo } {
  const of = (...effects: readonly ComparabilityReason['effect'][]): WhatToDo => {
    const found = reasons.filter(({ effect }) => effects.includes(effect))
    const measured = found.filter(({ factor }) => MEASURED.test(factor))
    const rest = found.filter(({ factor }) => !MEASURED.test(factor))
    return {
      putBack: rest
        .filter(({ before }) => before !== null)
        .map(({ factor, before, now }) => ({ factor, to: before, now })),
      measureAgain: measured.map(({ factor }) => factor),
      unknownInReference: rest.filter(({ before }) => before === null).map(({ factor }) => factor),
    }
  }
  return { grave: of('not_comparable', 'not_assessable'), caution: of('caution') }
}
