import { normalCdf } from '../numeric/distributions.ts'
import { requireNotNegative } from './minimal-detectable-change.ts'

/**
 * Smallest worthwhile change: 0.2 of the SD between subjects.
 *
 * What for: a yardstick of importance where nothing better is known; it says nothing about measurement error.
 * Convention: Cohen's small effect, sample SD (n - 1). Units: those of the SD. Errors: RangeError.
 * Source: Hopkins 2000, Sports Med 30:1-15. When not to use it: where patients or a guideline name a change that matters.
 * @example smallestWorthwhileChange(45) // 9
 */
export function smallestWorthwhileChange(betweenSubjectSd: number): number {
  requireNotNegative(betweenSubjectSd, 'betweenSubjectSd')
  return 0.2 * betweenSubjectSd
}

export interface ChangeChances {
  readonly aboveSmallestWorthwhile: number
  readonly trivial: number
  readonly belowMinusSmallestWorthwhile: number
}

/**
 * Chances that the true change lies above, within or below the smallest worthwhile change, given the one observed.
 *
 * Formula in words: normal, centred on the observed change, SD = typical error * sqrt 2. Units of the three inputs agree; answers
 * are proportions that add to 1. Source: Hopkins 2000, Sports Med 30:1-15 (and his spreadsheets). Limits: assumes no prior knowledge and a
 * known typical error; not a probability of benefit to a patient. Errors: RangeError when the typical error is not positive.
 * What for: how likely a change is larger than what matters. Units: proportions of 1.
 * @example chancesOfChange({ observedChange: 25, typicalError: 9.5, smallestWorthwhile: 9 }) // above 0.8832, below 0.0057
 */
export function chancesOfChange(input: {
  readonly observedChange: number
  readonly typicalError: number
  readonly smallestWorthwhile: number
}): ChangeChances {
  const { observedChange, typicalError, smallestWorthwhile } = input
  if (!(typicalError > 0 && typicalError < Infinity)) throw new RangeError('typicalError is positive')
  if (!Number.isFinite(observedChange)) throw new RangeError('observedChange is a finite number')
  requireNotNegative(smallestWorthwhile, 'smallestWorthwhile')
  const spread = typicalError * Math.SQRT2
  const above = normalCdf((observedChange - smallestWorthwhile) / spread)
  const below = normalCdf((-observedChange - smallestWorthwhile) / spread)
  return {
    aboveSmallestWorthwhile: above,
    trivial: Math.max(0, 1 - above - below),
    belowMinusSmallestWorthwhile: below,
  }
}
