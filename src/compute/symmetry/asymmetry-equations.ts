import type { Measured, ReasonCode, Side } from '../types.ts'
import type { BetterWhen } from '../trends/types.ts'

export type AsymmetryEquation =
  | 'limb_symmetry_ratio'
  | 'bilateral_strength_asymmetry'
  | 'bilateral_asymmetry_index_1'
  | 'bilateral_asymmetry_index_2'
  | 'asymmetry_index_as_printed'
  | 'symmetry_angle'

export interface AsymmetryEquationFacts {
  readonly equation: AsymmetryEquation
  readonly otherNames: readonly string[]
  /** x is the reference limb, y the other. */
  readonly formula: string
  /** Whether swapping the limbs changes only the sign, never the size. */
  readonly sizeFreeOfReference: boolean
}

/**
 * The published equations for differences between limbs, with the names they go by.
 *
 * Sources: Bishop 2016, Strength Cond J 38(6):27-32 (nine names; several are the same equation); Bishop 2018, Strength Cond J 40(4):1-6 (percentage
 * difference for tests of one limb at a time); Parkinson 2021, J Sports Sci Med 20:594-617 (the choice of reference changes the size of most).
 */
export const ASYMMETRY_EQUATIONS: readonly AsymmetryEquationFacts[] = [
  {
    equation: 'limb_symmetry_ratio',
    otherNames: ['limb symmetry index 1'],
    formula: '100 y / x',
    sizeFreeOfReference: false,
  },
  {
    equation: 'bilateral_strength_asymmetry',
    otherNames: ['limb symmetry index 2', 'standard percentage difference', 'deficit'],
    formula: '100 (x - y) / max(x, y)',
    sizeFreeOfReference: true,
  },
  {
    equation: 'bilateral_asymmetry_index_1',
    otherNames: ['symmetry index'],
    formula: '100 (x - y) / (x + y)',
    sizeFreeOfReference: true,
  },
  {
    equation: 'bilateral_asymmetry_index_2',
    otherNames: ['limb symmetry index 3'],
    formula: '100 (x - y) / (0.5 (x + y))',
    sizeFreeOfReference: true,
  },
  {
    equation: 'asymmetry_index_as_printed',
    otherNames: ['asymmetry index'],
    formula: '100 (x - y) / (x + y / 2)',
    sizeFreeOfReference: false,
  },
  {
    equation: 'symmetry_angle',
    otherNames: [],
    formula: '100 (45 - atan(y / x) in deg) / 90',
    sizeFreeOfReference: true,
  },
]

export interface AsymmetryInput {
  readonly left: Measured
  readonly right: Measured
  /** The limb that plays x. stronger: whichever does better, so that the size does not depend on a choice. */
  readonly reference: Side | 'stronger'
  readonly betterWhen: BetterWhen
}

export interface Asymmetry {
  /** The equation's own answer with the chosen reference, sign kept. */
  readonly valuePct: Measured
  /** Size alone; for the ratio its distance from 100. */
  readonly magnitudePct: Measured
  /** The limb that does better: the direction, apart from the size. */
  readonly strongerSide: Side | 'equal' | null
}

function evaluate(equation: AsymmetryEquation, x: number, y: number): number {
  switch (equation) {
    case 'limb_symmetry_ratio':
      return 100 * (y / x)
    case 'bilateral_strength_asymmetry':
      return (100 * (x - y)) / Math.max(x, y)
    case 'bilateral_asymmetry_index_1':
      return (100 * (x - y)) / (x + y)
    case 'bilateral_asymmetry_index_2':
      return (100 * (x - y)) / (0.5 * (x + y))
    case 'asymmetry_index_as_printed':
      return (100 * (x - y)) / (x + y / 2)
    case 'symmetry_angle':
      return (100 * (45 - (Math.atan2(y, x) * 180) / Math.PI)) / 90
  }
}

/**
 * Difference between limbs by one of the published equations, with its size and its direction apart.
 *
 * What for: reading other people's numbers, and comparing with them by the SAME equation: 25 against 20 is 80, 20, 22.2, 11.1, 14.3 or 7.0 percent.
 * Formulas: `ASYMMETRY_EQUATIONS`. Conventions: x is the reference; a time (lower is better) is inverted first; values are magnitudes.
 * Units: percent. Bad data are null with a reason: a missing side, `negative_value`, `zero_denominator`. Errors: RangeError for non-finite numbers.
 * Limits: the size of the ratio and of the asymmetry index as printed depends on the reference. Direction flips between tests of the same person, so compare
 * it apart (`directionAgreement`); the often quoted 15 % lacks prospective support (Bishop 2018). When not to use it: as a sign of injury risk.
 * Source: Bishop 2016 and 2018, Parkinson 2021: see ASYMMETRY_EQUATIONS.
 *
 * @example asymmetry('symmetry_angle', { left: { value: 25 }, right: { value: 20 }, reference: 'left', betterWhen: 'higher' }).valuePct.value // 7.0447
 */
export function asymmetry(equation: AsymmetryEquation, input: AsymmetryInput): Asymmetry {
  const { left, right, reference, betterWhen } = input
  const withheld = (reason: ReasonCode): Asymmetry => ({
    valuePct: { value: null, reason },
    magnitudePct: { value: null, reason },
    strongerSide: null,
  })
  if (left.value === null) return withheld(left.reason)
  if (right.value === null) return withheld(right.reason)
  if (!Number.isFinite(left.value) || !Number.isFinite(right.value)) throw new RangeError('values are finite numbers')
  if (left.value < 0 || right.value < 0) return withheld('negative_value')
  if (left.value === 0 || right.value === 0) return withheld('zero_denominator')
  // Every equation depends on the ratio alone, so exchanging the two times is exactly the same as inverting both.
  const [ofLeft, ofRight] = betterWhen === 'higher' ? [left.value, right.value] : [right.value, left.value]
  const strongerSide = ofLeft === ofRight ? 'equal' : ofLeft > ofRight ? 'left' : 'right'
  const rightIsReference = reference === 'right' || (reference === 'stronger' && strongerSide === 'right')
  const value = rightIsReference ? evaluate(equation, ofRight, ofLeft) : evaluate(equation, ofLeft, ofRight)
  if (!Number.isFinite(value)) return withheld('zero_denominator')
  return {
    valuePct: { value },
    magnitudePct: { value: Math.abs(equation === 'limb_symmetry_ratio' ? 100 - value : value) },
    strongerSide,
  }
}

/**
 * How often the direction of an asymmetry agreed between two occasions or two tests.
 *
 * Formula in words: pairs with the same stronger side over pairs with a side on both occasions; 'equal' or missing tells nothing.
 * Source: Bishop 2018, Strength Cond J 40(4):1-6 on direction beside size. null proportion where no pair tells. Errors: RangeError for unequal lengths.
 * Limits: with few pairs the proportion says little; chance alone gives a half.
 * What for: whether the same side is weaker again. Units: none, a proportion.
 *
 * @example directionAgreement(['left', 'right', 'left'], ['left', 'left', 'equal']) // { same: 1, opposite: 1, cannotTell: 1, proportionSame: 0.5 }
 */
export function directionAgreement(
  first: readonly Asymmetry['strongerSide'][],
  second: readonly Asymmetry['strongerSide'][],
): {
  readonly same: number
  readonly opposite: number
  readonly cannotTell: number
  readonly proportionSame: number | null
} {
  if (first.length !== second.length) throw new RangeError('two lists of equal length are expected')
  let same = 0
  let opposite = 0
  first.forEach((side, i) => {
    const other = second[i]
    if (side === null || side === 'equal' || other === null || other === undefined || other === 'equal') return
    if (side === other) same++
    else opposite++
  })
  const told = same + opposite
  return { same, opposite, cannotTell: first.length - told, proportionSame: told === 0 ? null : same / told }
}

/**
 * Whether a difference between limbs is larger than the variation within a limb over its own repetitions.
 *
 * Formula in words: size of the asymmetry against the larger coefficient of variation (n - 1) of the two limbs. Units: percent.
 * Source: Exell, quoted in Bishop 2016, Strength Cond J 38(6):27-32. Limits: repetitions of one visit; the error between visits is larger.
 * undetermined where a variation is missing. Errors: RangeError for negative numbers.
 * What for: to tell a difference between limbs from scatter within one.
 * @example asymmetryAgainstVariation(20, { value: 4 }, { value: 6 }) // 'exceeds_variation'
 */
export function asymmetryAgainstVariation(
  magnitudePct: number,
  leftCoefficientOfVariationPct: Measured,
  rightCoefficientOfVariationPct: Measured,
): 'exceeds_variation' | 'within_variation' | 'undetermined' {
  if (!(magnitudePct >= 0)) throw new RangeError('a size is not negative')
  if (leftCoefficientOfVariationPct.value === null || rightCoefficientOfVariationPct.value === null)
    return 'undetermined'
  const variation = Math.max(leftCoefficientOfVariationPct.value, rightCoefficientOfVariationPct.value)
  if (!(variation >= 0)) throw new RangeError('a coefficient of variation is not negative')
  return magnitudePct > variation ? 'exceeds_variation' : 'within_variation'
}
