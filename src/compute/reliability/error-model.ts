import type { ContractionMode, Joint, Movement, ReasonCode } from '../types.ts'

/**
 * absolute: the SEM is in the unit of the measure and the same at every level.
 * percent: the SEM grows with the value; decisions are taken on logarithms, so the limits are asymmetric.
 */
export type ErrorScale = 'absolute' | 'percent'

/** How the limb under test differs from the limbs of a healthy sample. */
export type LimbCondition = 'no_history' | 'operated' | 'injured' | 'osteoarthritis' | 'unknown'

/** Whom a measurement error is asked for. Everything unknown is null or 'unknown', never assumed. */
export interface TestedPerson {
  readonly limbCondition: LimbCondition
  /** Since the operation of the tested limb; only read when limbCondition is 'operated'. */
  readonly monthsSinceSurgery: number | null
  readonly sex: 'female' | 'male' | 'unknown'
  readonly ageYears: number | null
}

/** What was measured: the identity under which an error may be looked up. */
export interface ErrorQuery {
  readonly joint: Joint
  readonly movement: Movement
  readonly contractionMode: ContractionMode
  /** 0 for isometric. */
  readonly velocityDegS: number
  /** Measure name as in documents: peakTorque, workPerRepetition, conventionalRatio ... */
  readonly measure: string
  readonly person: TestedPerson
}

/** A clinic's own test-retest error for one identity, as estimated by `testRetestError`. */
export interface ClinicError {
  readonly scale: ErrorScale
  /** Unit of the measure, or percent (a coefficient of variation) when scale is percent. */
  readonly sem: number
  readonly degreesOfFreedom: number
  readonly pairs: number
  readonly source: string
  /** From whom the pairs were taken. */
  readonly limbCondition: LimbCondition
  /** Retests shifted on average: the pairs hold learning as well as error. */
  readonly meanShiftDetected: boolean
}

/** Whose tests an error of a clinic speaks of; null: everybody's, every machine's. */
export interface ErrorScope {
  readonly operatorId: string | null
  readonly dynamometerId: string | null
}

export interface KnownErrorModel {
  readonly kind: 'clinic_test_retest' | 'published'
  readonly scale: ErrorScale
  /** Unit of the measure, or percent when scale is percent. */
  readonly sem: number
  /** Minimal detectable change at `confidence`, normal quantile: what publications print. Same unit as sem; for percent, the rise. */
  readonly mdc: number
  readonly confidence: number
  /** Degrees of freedom the SEM was estimated with; null: taken as known (published values). */
  readonly degreesOfFreedom: number | null
  /** Pairs of tests (clinic) or subjects (published). */
  readonly n: number
  readonly source: string
  readonly cautions: readonly ReasonCode[]
}

export interface UnknownErrorModel {
  readonly kind: 'none'
  readonly reason: ReasonCode
}

/** The measurement error a decision leans on, or why there is none. */
export type ErrorModel = KnownErrorModel | UnknownErrorModel
