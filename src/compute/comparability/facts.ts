import type { ContractionMode, ContractionScheme, Joint, Movement, Side } from '../types.ts'

/** The measures a verdict can be asked for. */
export const COMPARED_MEASURES = [
  'peakTorque',
  'angleOfPeakTorque',
  'torqueAtAngle',
  'workPerRepetition',
  'totalWork',
  'averagePower',
  'peakPower',
  'timeToPeakTorque',
  'rateOfTorqueDevelopment',
  'impulse',
  'rangeOfMotion',
  'loadRange',
  'loadRangeDuration',
  'peakTorquePerBodyMass',
  'workPerBodyMass',
  'averagePowerPerBodyMass',
  'fatigueIndexEdges',
  'workFatigueThirds',
  'fatigueSlope',
  'isometricPlateauTorque',
  'strengthRatio',
] as const

export type ComparedMeasure = (typeof COMPARED_MEASURES)[number]
export type ComparedStatistic = 'best' | 'mean' | 'total' | 'coefficientOfVariation'

/** What a clinic's own setting of its machine was in one test; the words of its description, not ours. */
export interface SettingFact {
  /** The clinic's key in camelCase, e.g. "backrestAngle". */
  readonly key: string
  /**
   * The factor word under which it is judged and reported; null: the key in snake_case. A description states it where the
   * clinic's dial means something the rules know: key "rearDial", factor "backrest_angle".
   */
  readonly factor: string | null
  /** null: not recorded. */
  readonly value: SettingFactValue | null
  /** In the unit of the value, or in marks of an ordered scale; null: any difference counts. */
  readonly tolerance: number | null
  /** What a difference beyond the tolerance does, as the clinic describes it. */
  readonly effectBeyondTolerance: 'note' | 'caution' | 'not_comparable'
  readonly affects: 'all' | readonly ComparedMeasure[]
  /** How the setting carries over to the other limb. */
  readonly mirror: 'same' | 'negated' | 'same_mark_on_other_scale' | 'own_value'
}

export type SettingFactValue =
  | { readonly kind: 'quantity'; readonly value: number; readonly unit: string }
  /** `position` is the place of the mark on an ordered scale, null where the marks have no order. */
  | { readonly kind: 'scale_mark'; readonly scale: string; readonly mark: string; readonly position: number | null }
  | { readonly kind: 'choice'; readonly choice: string }
  | { readonly kind: 'boolean'; readonly on: boolean }

/** Of a seated knee only measured offsets say how far apart two axes lay; of others, what the eye saw must do. */
export interface AxisFact {
  /** What the eye saw while the limb was moved by hand. */
  readonly padTravel: 'none' | 'slight' | 'clear' | null
  /** From pad positions at angles; half width of the interval of each component at 95 %. */
  readonly offset: { readonly forwardMm: number; readonly upMm: number; readonly halfWidthMm: number } | null
}

/**
 * Everything about one direction of one set that decides what it may be compared with.
 *
 * null is always "unknown" (not recorded, void because something moved afterwards, or not stated by the device) and never means
 * "none": an unused part is the word "none" or "not_used". Two tests whose facts are equal and known are comparable.
 */
export interface ComparabilityFacts {
  readonly joint: Joint
  readonly side: Side
  readonly movement: Movement
  readonly contractionMode: ContractionMode
  readonly contractionScheme: ContractionScheme | null
  /** Set speed, 0 for isometric. */
  readonly velocityDegS: number | null
  readonly intendedRepetitions: number | null

  readonly dynamometerId: string | null
  /** Design family of the machine as the clinic names it; matters only between two machines. */
  readonly deviceFamily: string | null
  readonly descriptionVersion: number | null
  readonly attachment: string | null
  readonly leverArmMm: number | null
  readonly padMountedOn: 'arm' | 'shin' | null
  readonly bodyPosition: string | null
  readonly settings: readonly SettingFact[]

  readonly trunkStraps: string | null
  /** "none" or a word for its tension, e.g. "firm". */
  readonly thighStrap: string | null
  readonly otherLimbStabiliser: string | null
  readonly lumbarSupport: string | null
  readonly hands: string | null

  readonly stops: { readonly firstDeg: number; readonly secondDeg: number } | null
  readonly anatomicalZero: {
    readonly readingDeg: number
    readonly afterLastAdjustment: 'yes' | 'no' | 'unknown'
  } | null
  /** null: the axis check was not performed or not recorded. */
  readonly axis: AxisFact | null
  readonly gravityCorrected: 'yes' | 'no' | null

  readonly deviceFilter: 'none' | 'applied' | null
  readonly deviceWindowing: 'none' | 'applied' | null
  /** Hash of the parameters and measure revision used here; null for values reported by a device. */
  readonly processingKey: string | null

  readonly verbalEncouragement: string | null
  readonly visualFeedback: string | null
  readonly familiarisation: 'none' | 'same_session' | 'earlier_session' | null
  /** Local wall clock at the start of the session, minutes after midnight. */
  readonly startMinuteOfDay: number | null
  readonly operator: string | null
  readonly restBeforeS: number | null
  readonly limbOrder: string | null
  readonly velocityOrder: string | null
  readonly warmUp: string | null
  /** Whether any were taken before the test. */
  readonly analgesics: 'yes' | 'no' | null
  /** Highest pain during the test, numeric rating 0 to 10. */
  readonly painDuring: number | null
  readonly bodyMassKg: number | null
}
