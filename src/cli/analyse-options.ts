import { parseArgs } from 'node:util'
import {
  canonicalUnitOf,
  convert,
  DEFAULT_PARAMETERS,
  limbOrientation,
  MOVEMENT_PAIRS,
  weighLimb,
  type BodyPosition,
  type ContractionMode,
  type DeviceProcessing,
  type DirectionProtocol,
  type Joint,
  type LimbWeighing,
  type Movement,
  type Protocol,
  type QuantityKind,
  type Recording,
  type Side,
  type TorqueState,
  type YesNoUnknown,
} from '../compute/index.ts'
import { unitFault } from '../domain/quantities.ts'

export const ANALYSE_HELP = `Usage: limb-ledger analyse FILE.csv OPTIONS

Measures a recording without a database. The header names channel and unit: time (s),torque (N.m),angle (deg),
and velocity (deg/s) where it was recorded. Columns are separated by commas, decimals have a point.

What was done (required)
  --joint WORD             knee, hip, ankle, shoulder, elbow, wrist, trunk
  --side left|right
  --movement A[,B]         muscle groups tested, in order: extension,flexion
  --velocity "60 deg/s"    set velocity, or one for each movement: "30 deg/s,120 deg/s"; not for isometric
  --mode A[,B]             isokinetic_concentric, isokinetic_eccentric or isometric
How to read the file (required)
  --torque-positive WORD   the movement in which torque is positive, or unsigned
  --angle-positive WORD    the movement in which the angle grows
  --torque-state WORD      measured, gravity_corrected or unknown
And, where known
  --scheme WORD            reciprocal (two movements unless you say otherwise) or single_direction
  --zero "0 deg"           reading at the anatomical zero (0 deg unless you say otherwise)
  --device-filter WORD     none, applied or unknown (unknown unless you say otherwise)
  --device-windowing WORD  none, applied or unknown (unknown unless you say otherwise)
  --weighing-torque "10.6 N.m"   reading while the machine holds the relaxed limb up
  --weighing-angle "35 deg"      angle of the limb below horizontal in that reading
  --weighed-after-last-adjustment yes|no|unknown
  --body-position WORD     seated, supine, prone, side_lying or standing; needed with a weighing
  --body-mass "68.4 kg"
  --repetitions 5          repetitions intended
  --not-counted 2:aborted  a repetition that does not count and why; may be given again
Output
  --json                   the analysis as one JSON object instead of tables

It measures; it judges nobody. Local protocol and licensed practice come first.`

export interface AnalyseOptions {
  readonly file: string
  readonly json: boolean
  readonly side: Side
  /** Everything about the recording except its samples. */
  readonly declared: Omit<Recording, 'timeS' | 'torqueNm' | 'angleDeg' | 'velocityDegS'>
  readonly protocol: Protocol
  readonly notes: readonly string[]
}

const text = { type: 'string' } as const
const OPTIONS = {
  joint: text,
  side: text,
  movement: text,
  velocity: text,
  mode: text,
  'torque-positive': text,
  'angle-positive': text,
  'torque-state': text,
  scheme: text,
  zero: text,
  'device-filter': text,
  'device-windowing': text,
  'weighing-torque': text,
  'weighing-angle': text,
  'weighed-after-last-adjustment': text,
  'body-position': text,
  'body-mass': text,
  repetitions: text,
  'not-counted': { type: 'string', multiple: true },
  json: { type: 'boolean' },
  help: { type: 'boolean', short: 'h' },
} as const

type TextOption = Exclude<keyof typeof OPTIONS, 'json' | 'help' | 'not-counted'>

const JOINTS: readonly Joint[] = ['knee', 'hip', 'ankle', 'shoulder', 'elbow', 'wrist', 'trunk']
const SIDES: readonly Side[] = ['left', 'right']
const MODES: readonly ContractionMode[] = ['isokinetic_concentric', 'isokinetic_eccentric', 'isometric']
const TORQUE_STATES: readonly TorqueState[] = ['measured', 'gravity_corrected', 'unknown']
const PROCESSING: readonly DeviceProcessing[] = ['none', 'applied', 'unknown']
const ANSWERS: readonly YesNoUnknown[] = ['yes', 'no', 'unknown']
const POSITIONS: readonly BodyPosition[] = ['seated', 'supine', 'prone', 'side_lying', 'standing']
const SCHEMES = ['reciprocal', 'single_direction'] as const
const MOVEMENTS: readonly Movement[] = MOVEMENT_PAIRS.flat()

/** Every fault of the command line at once, or what it asks for. */
export function readAnalyseOptions(
  argv: readonly string[],
): { readonly options: AnalyseOptions } | { readonly faults: readonly string[] } | { readonly help: true } {
  let parsed
  try {
    parsed = parseArgs({ args: [...argv], options: OPTIONS, allowPositionals: true })
  } catch (error) {
    return { faults: [error instanceof Error ? error.message : String(error)] }
  }
  const { values, positionals } = parsed
  if (values.help === true) return { help: true }

  const faults: string[] = []
  const fault = (message: string): null => {
    faults.push(message)
    return null
  }
  function word<T extends string>(option: TextOption, accepted: readonly T[], otherwise?: T): T | null {
    const given = values[option]
    if (given === undefined) return otherwise ?? fault(`--${option} is needed: ${accepted.join(', ')}.`)
    return oneOf(option, given, accepted)
  }
  function oneOf<T extends string>(option: string, given: string, accepted: readonly T[]): T | null {
    return (
      accepted.find((candidate) => candidate === given) ?? fault(`--${option} must be one of ${accepted.join(', ')}.`)
    )
  }
  const quantityOf = (option: TextOption, given: string, kind: QuantityKind): number | null => {
    const match = /^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([^\s\d.]\S*)\s*$/.exec(given)
    if (match === null) return fault(`--${option} needs a number and its unit: "12.5 ${canonicalUnitOf(kind)}".`)
    const unit = unitFault(match[2]!, kind)
    return unit === null
      ? convert(Number(match[1]), match[2]!, canonicalUnitOf(kind))
      : fault(`--${option}: ${unit.message}`)
  }
  const optionalQuantity = (option: TextOption, kind: QuantityKind): number | null => {
    const given = values[option]
    return given === undefined ? null : quantityOf(option, given, kind)
  }

  if (positionals.length !== 1) fault(`Give one file; ${positionals.length} were given.`)
  const joint = word('joint', JOINTS)
  const side = word('side', SIDES)
  const torquePositive = word<Movement | 'unsigned'>('torque-positive', [...MOVEMENTS, 'unsigned'])
  const anglePositive = word('angle-positive', MOVEMENTS)
  const torqueState = word('torque-state', TORQUE_STATES)
  const deviceFilter = word('device-filter', PROCESSING, 'unknown')
  const deviceWindowing = word('device-windowing', PROCESSING, 'unknown')

  const movements = (values.movement ?? '').split(',').filter((part) => part !== '')
  if (movements.length < 1 || movements.length > 2) fault('--movement is needed: one or two, as in extension,flexion.')
  const modes = perMovement(values.mode, movements.length)
  if (modes === null) fault(`--mode is needed: one for all movements, or one for each: ${MODES.join(', ')}.`)
  const isometric = modes?.every((mode) => mode === 'isometric') ?? false
  const velocities = isometric ? movements.map(() => '0 deg/s') : perMovement(values.velocity, movements.length)
  if (isometric && values.velocity !== undefined) fault('--velocity does not belong to an isometric test.')
  if (velocities === null) fault('--velocity is needed: one for all movements, or one for each, as in "60 deg/s".')

  const directions = movements.flatMap((given, index): DirectionProtocol[] => {
    const movement = oneOf('movement', given, MOVEMENTS)
    const contractionMode = modes === null ? null : oneOf('mode', modes[index]!, MODES)
    const velocityDegS = velocities === null ? null : quantityOf('velocity', velocities[index]!, 'angular_velocity')
    if (velocityDegS !== null && contractionMode !== null && velocityDegS > 0 === (contractionMode === 'isometric')) {
      fault('--velocity must be above zero in an isokinetic test.')
    }
    if (movement === null || contractionMode === null || velocityDegS === null) return []
    return [{ movement, contractionMode, velocityDegS }]
  })
  const contractionScheme = word('scheme', SCHEMES, movements.length === 2 ? 'reciprocal' : 'single_direction')

  const bodyMassKg = optionalQuantity('body-mass', 'mass')
  if (bodyMassKg !== null && !(bodyMassKg > 0)) fault('--body-mass must be above zero.')
  const zeroDeg = optionalQuantity('zero', 'angle') ?? 0
  const intendedRepetitions = values.repetitions === undefined ? null : Number(values.repetitions)
  if (intendedRepetitions !== null && !(Number.isSafeInteger(intendedRepetitions) && intendedRepetitions > 0)) {
    fault('--repetitions must be a whole number above zero.')
  }
  const repetitionNotes = (values['not-counted'] ?? []).flatMap((given) => {
    const match = /^([1-9]\d{0,3}):([a-z][a-z_]{0,39})$/.exec(given)
    if (match === null) fault('--not-counted needs a repetition and a reason in snake_case, as in 2:aborted.')
    return match === null ? [] : [{ repetition: Number(match[1]), count: 'no' as const, reason: match[2]! }]
  })

  const weighingTorque = optionalQuantity('weighing-torque', 'torque')
  const weighingAngle = optionalQuantity('weighing-angle', 'angle')
  if ((values['weighing-torque'] === undefined) !== (values['weighing-angle'] === undefined)) {
    fault('--weighing-torque and --weighing-angle belong together.')
  }
  const afterLastAdjustment = word('weighed-after-last-adjustment', ANSWERS, 'unknown')
  const position = values['weighing-torque'] === undefined ? null : word('body-position', POSITIONS)

  const [first] = directions
  let gravity: Protocol['gravity'] = null
  const notes: string[] = []
  if (weighingTorque !== null && weighingAngle !== null && position !== null && joint !== null && first !== undefined) {
    const orientation = limbOrientation(joint, first.movement, position)
    if (orientation === null) {
      fault('The body position does not settle how this limb stands to the horizontal: leave the weighing out.')
    } else if (afterLastAdjustment !== null) {
      const weighing: LimbWeighing = {
        method: 'single_angle',
        limbAngleBelowHorizontalDeg: weighingAngle,
        torqueNm: weighingTorque,
        armTared: 'unknown',
        afterLastAdjustment,
      }
      const weighed = weighLimb(weighing, orientation)
      gravity = weighed.model
      if (weighed.reason !== null) notes.push(`The limb weighing was not used: ${weighed.reason}.`)
      notes.push(...weighed.findings.map(({ detail }) => detail))
    }
  }

  if (
    faults.length > 0 ||
    joint === null ||
    side === null ||
    torquePositive === null ||
    anglePositive === null ||
    torqueState === null ||
    deviceFilter === null ||
    deviceWindowing === null ||
    contractionScheme === null
  ) {
    return { faults: [...new Set(faults)] }
  }
  return {
    options: {
      file: positionals[0]!,
      json: values.json === true,
      side,
      declared: {
        torquePositive,
        anglePositive,
        readingAtAnatomicalZeroDeg: zeroDeg,
        torqueState,
        deviceFilter,
        deviceWindowing,
      },
      protocol: {
        joint,
        directions,
        contractionScheme,
        gravity,
        bodyMassKg,
        intendedRepetitions,
        repetitionNotes,
        parameters: DEFAULT_PARAMETERS,
      },
      notes,
    },
  }
}

/** One value for all movements or one for each. */
function perMovement(given: string | undefined, movements: number): string[] | null {
  const parts = given?.split(',').map((part) => part.trim()) ?? []
  if (parts.length === movements) return parts
  return parts.length === 1 ? Array.from({ length: movements }, () => parts[0]!) : null
}
