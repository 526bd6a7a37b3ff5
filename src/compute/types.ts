/**
 * The words of the compute core.
 *
 * Conventions, everywhere inside compute/:
 * - A movement pair is written [first, second]; torque and velocity are POSITIVE in the first movement
 *   (knee: extension), angle is positive towards the second (knee: flexion; 0 = full extension).
 *   Hence velocity = -d(angle)/dt.
 * - Muscle power torque * velocity > 0 is concentric, < 0 eccentric.
 * - Numbers carry their unit in their name. Bad DATA is a value (null with a reason); a caller's MISTAKE is a RangeError.
 */

export type Joint = 'knee' | 'hip' | 'ankle' | 'shoulder' | 'elbow' | 'wrist' | 'trunk'
export type Side = 'left' | 'right'
export type Movement =
  | 'extension'
  | 'flexion'
  | 'adduction'
  | 'abduction'
  | 'internal_rotation'
  | 'external_rotation'
  | 'plantar_flexion'
  | 'dorsiflexion'
  | 'inversion'
  | 'eversion'
  | 'pronation'
  | 'supination'
export type ContractionMode = 'isokinetic_concentric' | 'isokinetic_eccentric' | 'isometric'
export type ContractionScheme = 'reciprocal' | 'single_direction'
export type TorqueState = 'measured' | 'gravity_corrected' | 'unknown'
/** What the device did to the signal before we saw it. */
export type DeviceProcessing = 'none' | 'applied' | 'unknown'
export type YesNoUnknown = 'yes' | 'no' | 'unknown'

/** A number, or null and why there is none. Never NaN, never a stand-in 0. */
export type Measured = { readonly value: number } | { readonly value: null; readonly reason: ReasonCode }

/** Why a measure, a repetition or a verdict could not be had. snake_case; listed by GET /v1/code-lists/reasons. */
export type ReasonCode = string

/** A sampled recording in SI units and degrees, signs still as the device sent them. All channels have equal length. */
export interface Recording {
  /** Seconds from the first sample, strictly increasing. */
  readonly timeS: Float64Array
  readonly torqueNm: Float64Array
  readonly angleDeg: Float64Array
  /** null: derived from the angle. Positive follows `anglePositive`. */
  readonly velocityDegS: Float64Array | null
  /** The movement in which torque is positive, or unsigned (concentric recordings only). */
  readonly torquePositive: Movement | 'unsigned'
  readonly anglePositive: Movement
  readonly readingAtAnatomicalZeroDeg: number
  readonly torqueState: TorqueState
  readonly deviceFilter: DeviceProcessing
  readonly deviceWindowing: DeviceProcessing
}

export interface DirectionProtocol {
  readonly movement: Movement
  readonly contractionMode: ContractionMode
  /** Set speed, deg/s, positive; 0 for isometric. */
  readonly velocityDegS: number
}

/** The measures of a direction of a set. Units: see MEASURE_UNITS. */
export type MeasureName =
  | 'peakTorque'
  | 'angleOfPeakTorque'
  | 'workPerRepetition'
  | 'totalWork'
  | 'averagePower'
  | 'peakPower'
  | 'timeToPeakTorque'
  | 'rateOfTorqueDevelopment'
  | 'impulse'
  | 'rangeOfMotion'
  | 'loadRange'
  | 'loadRangeDuration'
  | 'peakTorquePerBodyMass'
  | 'workPerBodyMass'
  | 'averagePowerPerBodyMass'
  | 'fatigueIndexEdges'
  | 'workFatigueThirds'
  | 'fatigueSlope'
  | 'isometricPlateauTorque'

/** UCUM unit of every measure. Torque is N.m and work is J: the same dimension, never the same quantity. */
export const MEASURE_UNITS: Readonly<Record<MeasureName | 'torqueAtAngle', string>> = {
  peakTorque: 'N.m',
  angleOfPeakTorque: 'deg',
  torqueAtAngle: 'N.m',
  workPerRepetition: 'J',
  totalWork: 'J',
  averagePower: 'W',
  peakPower: 'W',
  timeToPeakTorque: 'ms',
  rateOfTorqueDevelopment: 'N.m/s',
  impulse: 'N.m.s',
  rangeOfMotion: 'deg',
  loadRange: 'deg',
  loadRangeDuration: 'ms',
  peakTorquePerBodyMass: 'N.m/kg',
  workPerBodyMass: 'J/kg',
  averagePowerPerBodyMass: 'W/kg',
  fatigueIndexEdges: '%',
  workFatigueThirds: '%',
  fatigueSlope: 'N.m/{repetition}',
  isometricPlateauTorque: 'N.m',
}

export const MEASURE_NAMES = Object.keys(MEASURE_UNITS).filter((name) => name !== 'torqueAtAngle') as MeasureName[]

/** One statistic over the counted repetitions. Indices of the whole set (total work, fatigue) are the `total`. */
export type Statistic = 'best' | 'mean' | 'total' | 'coefficientOfVariation'

/** A statistic with the number of repetitions behind it and, for a best value, which repetition it came from. */
export type StatValue = Measured & {
  readonly n?: number
  readonly repetition?: number
  /** Worked out here from a value that somebody else computed. */
  readonly derived?: 'from_reported_value'
}

export type MeasureStatistics = { readonly [S in Statistic]?: StatValue }

/**
 * Where the limb stands to the horizontal: angle below horizontal = belowHorizontalAtZeroDeg + perJointDegree * joint angle.
 * Seated knee, thigh level: { 0, +1 }; thigh raised 5 deg: { -5, +1 }; prone knee: { 0, -1 } (flexing lifts the shank).
 */
export interface LimbOrientation {
  readonly belowHorizontalAtZeroDeg: number
  /** +1 where the second movement (angle increasing) lowers the limb from horizontal, -1 where it raises it. */
  readonly perJointDegree: 1 | -1
}

/** What gravity (with arm and attachment) does to the measured torque, as a function of the joint angle. Plain JSON. */
export type GravityModel =
  | { readonly kind: 'cosine'; readonly momentNm: number; readonly orientation: LimbOrientation }
  | {
      readonly kind: 'phase_shifted'
      readonly cosineNm: number
      readonly sineNm: number
      readonly orientation: LimbOrientation
    }
  /** Passive torque read over the joint angle (ascending), positive in the first movement; never extrapolated. */
  | {
      readonly kind: 'passive_sweep'
      readonly angleDeg: readonly number[]
      readonly passiveTorqueNm: readonly number[]
    }
  /** The limb moves in a horizontal plane: gravity has no moment about the axis. */
  | { readonly kind: 'horizontal_plane' }

/** The relaxed limb weighed by the dynamometer. Torques are positive where the machine holds the limb UP. */
export type LimbWeighing = {
  readonly armTared: YesNoUnknown
  /** Was it done after the last change of seat, machine or attachment? "no" makes it void. */
  readonly afterLastAdjustment: YesNoUnknown
} & (
  | {
      readonly method: 'single_angle'
      readonly limbAngleBelowHorizontalDeg: number
      readonly torqueNm: number
    }
  | {
      readonly method: 'several_angles'
      readonly readings: readonly { readonly limbAngleBelowHorizontalDeg: number; readonly torqueNm: number }[]
    }
  /** A slow passive movement, best both ways: joint angle and torque as the machine holds the limb up. */
  | {
      readonly method: 'passive_sweep'
      readonly angleDeg: readonly number[]
      readonly torqueNm: readonly number[]
    }
)

/** How the recorded torque came to be, or not to be, free of gravity. */
export type GravityCorrection =
  | 'limb_weighing_cosine'
  | 'limb_weighing_phase_shifted'
  | 'passive_sweep'
  | 'horizontal_plane'
  | 'corrected_by_device'
  | 'none'
  | 'unknown'

/** When a contraction begins: torque above the resting level by this much, searched backwards from the rise. */
export type OnsetRule =
  | { readonly kind: 'absolute'; readonly riseNm: number }
  | { readonly kind: 'fraction_of_peak'; readonly percent: number }
  | { readonly kind: 'baseline_deviation'; readonly standardDeviations: number; readonly atLeastNm: number }

/** Every choice that moves a number. Plain JSON: canonicalParameters() makes the string that is hashed. */
export interface AnalysisParameters {
  readonly filter:
    | {
        readonly kind: 'butterworth_zero_phase'
        /** Order of EACH of the two passes, even. 2 is what the field calls a fourth-order zero-lag filter. */
        readonly orderPerPass: number
        /** Cutoff of the two passes together by set velocity, ascending; the last row serves everything faster. */
        readonly cutoffs: readonly { readonly upToDegS: number; readonly cutoffHz: number }[]
        readonly isometricCutoffHz: number
        /** Angle and velocity are filtered at this multiple of the torque's cutoff, or the overshoot is hidden. */
        readonly kinematicCutoffMultiple: number
        /**
         * Velocity derived from the angle: the cutoff is lowered until the angle's own noise makes at most this per cent of
         * the slowest set velocity, or noise breaks up the load range.
         */
        readonly derivedVelocityNoisePercent: number
        /** Torque for the rate of torque development: light filtering only. */
        readonly rateOfTorqueDevelopmentCutoffHz: number
      }
    | { readonly kind: 'none' }
  readonly loadRange: {
    /** Two-sided: within this per cent of the set velocity. */
    readonly bandPercent: number
    /** Required length: the smaller of minimumRangeDeg and minimumPercentOfMotion of the range of motion. */
    readonly minimumRangeDeg: number
    readonly minimumPercentOfMotion: number
    readonly minimumDurationMs: number
    /** Dropouts out of the band up to this long are bridged. */
    readonly bridgeMs: number
    /**
     * Peaks are looked for where the limb has settled: samples of the first and last settleMs further than this per cent
     * from the range's own speed, and what lies outside them, are left out. There the brake's impact decays.
     */
    readonly settledPercent: number
    readonly settleMs: number
    readonly settleMarginMs: number
    /** Unsettled ends of the range up to this long take the continued settled torque; longer ones what was read. */
    readonly continueMs: number
  }
  readonly movement: {
    /** A movement turns where the angle comes back by the larger of these; less is a wiggle inside a movement. */
    readonly minimumRangeDeg: number
    readonly minimumPercentOfLargest: number
    /** Slower than this per cent of the set velocity throughout is positioning, not a repetition. */
    readonly minimumPercentOfSetVelocity: number
  }
  /** A peak in the first or last part of the load range is flagged. */
  readonly edgePercent: number
  /** The angle of peak torque is the vertex of a parabola through the torque above this per cent of the peak; 100: sample. */
  readonly peakAngleFitAbovePercent: number
  readonly workWindow: 'load_range' | 'full_range'
  readonly torqueAtAnglesDeg: readonly number[]
  readonly isometric: {
    /** A contraction is torque above this per cent of the largest, and above the absolute floor. */
    readonly contractionPercentOfLargest: number
    readonly contractionFloorNm: number
    readonly minimumDurationMs: number
    readonly onset: OnsetRule
    readonly rateOfTorqueDevelopmentWindowsMs: readonly number[]
    /** The window stored as the measure rateOfTorqueDevelopment; one of the windows. */
    readonly rateOfTorqueDevelopmentWindowMs: number
    readonly impulseWindowMs: number
    readonly plateau: { readonly windowMs: number; readonly maximumSpreadPercent: number }
    readonly maximumAngleChangeDeg: number
  }
  readonly fatigue: { readonly edgeRepetitions: number; readonly minimumRepetitions: number }
  readonly recording: {
    readonly minimumSampleRateHz: number
    readonly maximumSampleRateHz: number
    /** Uneven beyond this per cent of the median interval: resampled. */
    readonly unevenPercent: number
    /** Missing samples up to this long are interpolated; longer, and the repetitions they touch do not count. */
    readonly maximumGapMs: number
  }
}

/** How a set was meant to be done and what was written down about it. */
export interface Protocol {
  readonly joint: Joint
  /**
   * One or two. `movement` names the muscle group by what it does when it shortens, hence the TESTED SIGN of the torque:
   * an eccentric test of the knee extensors is { movement: 'extension', contractionMode: 'isokinetic_eccentric' },
   * and the limb moves towards flexion.
   */
  readonly directions: readonly DirectionProtocol[]
  readonly contractionScheme: ContractionScheme
  readonly gravity: GravityModel | null
  readonly bodyMassKg: number | null
  readonly intendedRepetitions: number | null
  /** `repetition` counts from 1 within each direction. */
  readonly repetitionNotes: readonly {
    readonly repetition: number
    readonly count: 'yes' | 'no'
    readonly reason: ReasonCode
  }[]
  readonly parameters: AnalysisParameters
}

export interface Finding {
  readonly code: ReasonCode
  /** The one movement it speaks of; absent: the whole set. */
  readonly movement?: Movement
  /** hold keeps the values out of progress until a clinician resolves it. */
  readonly level: 'note' | 'caution' | 'hold'
  readonly detail: string
}

export type RepetitionMeasure = Exclude<
  MeasureName,
  'totalWork' | 'fatigueIndexEdges' | 'workFatigueThirds' | 'fatigueSlope'
>

export interface TorqueAtAngle {
  readonly angleDeg: number
  readonly torque: Measured
}

export interface LoadRange {
  readonly startS: number
  readonly endS: number
  readonly startAngleDeg: number
  readonly endAngleDeg: number
}

export interface RepetitionResult {
  /** From 1 within the direction, in the order performed. */
  readonly repetition: number
  readonly counted: 'yes' | 'no'
  /** Why it does not count; null where it does. */
  readonly reason: ReasonCode | null
  /** Movement (isokinetic) or contraction (isometric) from and to, seconds of the recording. */
  readonly startS: number
  readonly endS: number
  /** By the sign of muscle power over the load range. */
  readonly contraction: 'concentric' | 'eccentric' | 'isometric' | 'unknown'
  readonly loadRange: LoadRange | null
  /** Durations of rise and deceleration around the load range. */
  readonly riseMs: Measured
  readonly decelerationMs: Measured
  readonly measures: Readonly<Record<RepetitionMeasure, Measured>>
  readonly torqueAtAngle: readonly TorqueAtAngle[]
  /** Isometric only: mean slope from onset to each window, and the steepest slope. */
  readonly rateOfTorqueDevelopment: readonly { readonly windowMs: number; readonly rate: Measured }[]
  readonly peakRateOfTorqueDevelopment: Measured
  readonly flags: readonly ReasonCode[]
}

export interface DirectionAnalysis {
  readonly movement: Movement
  readonly contractionMode: ContractionMode
  readonly velocityDegS: number
  readonly repetitions: readonly RepetitionResult[]
  readonly counted: number
  readonly notCounted: readonly { readonly repetition: number; readonly reason: ReasonCode }[]
  readonly measures: Readonly<Partial<Record<MeasureName, MeasureStatistics>>>
  readonly torqueAtAngle: readonly { readonly angleDeg: number; readonly best: StatValue; readonly mean: StatValue }[]
}

export type FilterUsed =
  | {
      readonly kind: 'butterworth_zero_phase'
      readonly orderPerPass: number
      readonly cutoffHz: number
      readonly designCutoffHz: number
      readonly kinematicCutoffHz: number | null
    }
  | 'none'

/** What one recording says. Magnitudes are positive in the tested direction; nothing in here is NaN or infinite. */
export interface Analysis {
  readonly directions: readonly DirectionAnalysis[]
  readonly findings: readonly Finding[]
  readonly gravityCorrected: YesNoUnknown
  readonly gravityCorrection: GravityCorrection
  readonly filter: FilterUsed
  readonly sampleRateHz: number | null
  readonly resampled: boolean
  readonly velocitySource: 'recorded' | 'derived_from_angle'
  readonly parameters: AnalysisParameters
  readonly computeVersion: string
}
