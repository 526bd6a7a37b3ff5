import type { ReasonCode } from '../types.ts'

/** The direction a measure declares as better; measures without one get no better or worse. */
export type BetterWhen = 'higher' | 'lower'

export type ChangeVerdict = 'increased' | 'decreased' | 'within_measurement_error' | 'undetermined'

export interface ConfidenceInterval {
  readonly low: number
  readonly high: number
  readonly confidence: number
}

export interface CriticalValue {
  readonly distribution: 'normal' | 't'
  readonly degreesOfFreedom: number | null
  readonly value: number
}

export interface ChangeDecision {
  readonly verdict: ChangeVerdict
  /** later - earlier, in the unit of the measure; null when a value is missing. */
  readonly difference: number | null
  /** 100 * (later / earlier - 1); null where it has no meaning. */
  readonly differencePct: number | null
  /** Differences between these are within measurement error; in the unit of the measure. null when undetermined. */
  readonly limits: { readonly low: number; readonly high: number } | null
  /** Difference in units of its standard error (of log values for a percent error); null when undetermined. */
  readonly standardised: number | null
  readonly pValue: number | null
  readonly critical: CriticalValue | null
  readonly confidence: number
  /** better | worse only where the measure declares a direction and the change exceeds its error. */
  readonly meaning: 'better' | 'worse' | null
  readonly reason: ReasonCode | null
  readonly cautions: readonly ReasonCode[]
}

export type SlopeVerdict = 'increased' | 'decreased' | 'plateau' | 'undetermined'

export interface TrendSlope {
  /** Per month of 30.4375 days (UCUM mo, the Julian month); null with a reason. */
  readonly perMonth: number | null
  readonly reason: ReasonCode | null
  readonly interval: ConfidenceInterval | null
  readonly verdict: SlopeVerdict
  readonly standardError: number | null
  readonly standardErrorFrom: 'measurement_error' | 'residuals' | null
  readonly critical: CriticalValue | null
  readonly pointCount: number
  readonly cautions: readonly ReasonCode[]
}
