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
