import { normalCdf } from '../numeric/distributions.ts'
import { requireConfidence, twoSidedCriticalValue } from '../reliability/minimal-detectable-change.ts'

export interface Multiplicity {
  readonly verdicts: number
  readonly confidence: number
  /** How many verdicts would say "changed" if nothing had. */
  readonly expectedFalseChanges: number
  /** Chance of one or more, were the verdicts independent (they are not: read it as an order of size). */
  readonly chanceOfAtLeastOne: number
  readonly statement: string
}

/**
 * What a whole family of change verdicts is worth: how many false changes it is expected to hold.
 *
 * Formula in words: number times (1 - confidence); chance of at least one = 1 - confidence to the number. Source: arithmetic.
 * What to do about it: judge the one to three measures named in advance, treat the rest as exploratory. Errors: RangeError.
 * Units: numbers, proportions. Limits: verdicts of one person are not independent; read it as an order of size, never
 * as a correction.
 * What for: to say how many of many verdicts are false by chance alone.
 *
 * @example multiplicityStatement(72, 0.95).expectedFalseChanges // 3.6
 */
export function multiplicityStatement(verdicts: number, confidence: number): Multiplicity {
  requireConfidence(confidence)
  if (!(Number.isInteger(verdicts) && verdicts >= 0)) throw new RangeError('verdicts is a whole number')
  const expectedFalseChanges = verdicts * (1 - confidence)
  const level = Number((100 * confidence).toPrecision(6))
  return {
    verdicts,
    confidence,
    expectedFalseChanges,
    chanceOfAtLeastOne: 1 - confidence ** verdicts,
    statement: `${verdicts} verdicts at ${level} % confidence: ${Number(expectedFalseChanges.toFixed(1))} would say changed if nothing had. Primary measures are named in advance; the rest is exploratory.`,
  }
}

/**
 * Chance that at least one of several visits differs "really" from one shared baseline although nothing changed.
 *
 * The differences share the baseline's error, so they are correlated; the exact value is an integral over that error: given it, visits are
 * independent. Five visits at 95 % give 18 %, not 23 %. Normal errors of known size. Errors: RangeError.
 * Source: integral by Simpson's rule over plus or minus 9 SD; checked by simulation and scipy.
 * What for: five looks at one baseline are more than one look.
 * Limits: one baseline, equal errors, no true change.
 *
 * @example chanceOfFalseChangeFromBaseline(5, 0.95) // 0.18
 */
export function chanceOfFalseChangeFromBaseline(visits: number, confidence: number): number {
  if (!(Number.isInteger(visits) && visits >= 1)) throw new RangeError('visits is a whole number, 1 or more')
  const limit = twoSidedCriticalValue(confidence, null) * Math.SQRT2
  const steps = 1800
  const width = 18 / steps
  let inside = 0
  for (let i = 0; i <= steps; i++) {
    const baseline = -9 + i * width
    const weight = i === 0 || i === steps ? 1 : i % 2 === 1 ? 4 : 2
    const density = Math.exp((-baseline * baseline) / 2) / Math.sqrt(2 * Math.PI)
    inside += weight * density * (normalCdf(limit - baseline) - normalCdf(-limit - baseline)) ** visits
  }
  return Math.max(0, 1 - (inside * width) / 3)
}
