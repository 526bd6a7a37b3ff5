/**
 * The shape of a pushed session: one visit, whole, in the order performed. Shape only: which fields there are, of what type,
 * in what unit and range. Rules between fields are in session-rules.ts, so that both report every fault of one document.
 * Unknown fields are refused, never dropped: a misspelt field is a lost measurement.
 */
import { z } from 'zod'
import type { QuantityKind } from '../compute/units/index.ts'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import type { JsonPath } from './json-pointer.ts'
import { quantity, quantityOfAnyKind } from './quantities.ts'

export const SESSION_LIMITS = {
  setups: 40,
  sets: 200,
  recordingSeconds: 600,
  minSampleRateHz: 50,
  maxSampleRateHz: 5000,
  /** Numbers in the `values` of one recording, about 2 MB of JSON; csv and f32leBase64 carry more. */
  valuesPerRecording: 300_000,
  /** Samples in all recordings of one document: what a body of 16 MB holds as f32leBase64. */
  samplesPerDocument: 4_000_000,
} as const

/** Where a session document may hold a long array of numbers. */
export const isSampleArray = (path: JsonPath): boolean => path.at(-1) === 'values' && path.at(-3) === 'channels'

const key = z.string().regex(/^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$/)
const text = (max: number): z.ZodString => z.string().min(1).max(max)
const codeOf = <const T extends readonly { readonly code: string }[]>(list: T) => z.enum(lists.codesOf(list))
const dateTime = z.iso.datetime({ offset: true })
const yesNoUnknown = z.enum(lists.YES_NO_UNKNOWN)
const angle = (limit: number) => quantity('angle', { min: -limit, max: limit })

const systemAndValue = z.strictObject({ system: text(200), value: text(200) })

/** Exactly one of the members points at a person. */
export const personReference = oneOf({ id: z.uuid().optional(), identifier: systemAndValue.optional() })
/** Exactly one of the members points at a record. */
export const recordReference = oneOf({ id: z.uuid().optional(), externalId: systemAndValue.optional() })

function oneOf<Shape extends z.core.$ZodLooseShape>(shape: Shape) {
  const names = Object.keys(shape)
  return z.strictObject(shape).superRefine((reference, context) => {
    const given = names.filter((name) => (reference as Record<string, unknown>)[name] !== undefined)
    if (given.length !== 1) fail(context, [], 'exactly_one', `Exactly one of ${names.join(', ')} belongs here.`)
  })
}

const screening = z.strictObject({
  listVersion: z.enum(lists.LIST_VERSIONS),
  answers: z
    .array(
      z.strictObject({
        question: codeOf(lists.SCREENING_QUESTIONS),
        answer: codeOf(lists.SCREENING_ANSWERS),
        side: z.enum(lists.SIDES).optional(),
        note: text(2000).optional(),
      }),
    )
    .max(200),
  pain: z
    .strictObject({
      scale: codeOf(lists.PAIN_SCALES),
      before: quantity('score', { min: 0, max: 10 }).optional(),
      during: quantity('score', { min: 0, max: 10 }).optional(),
      after: quantity('score', { min: 0, max: 10 }).optional(),
    })
    .optional(),
  effusion: z
    .array(
      z.strictObject({
        joint: z.enum(lists.JOINTS),
        side: z.enum(lists.SIDES),
        before: codeOf(lists.EFFUSION_GRADES),
        after: codeOf(lists.EFFUSION_GRADES).optional(),
      }),
    )
    .max(20)
    .optional(),
})

const conditions = z.strictObject({
  warmUp: z
    .strictObject({
      activity: codeOf(lists.WARM_UP_ACTIVITIES),
      duration: quantity('duration', { min: 0, max: 7200 }).optional(),
    })
    .optional(),
  familiarisation: codeOf(lists.FAMILIARISATION).optional(),
  /** none, not_recorded, or the clinic's own name of the words it says. */
  verbalEncouragement: z
    .string()
    .regex(/^[a-z][a-z0-9_]{0,63}$/)
    .optional(),
  visualFeedback: codeOf(lists.VISUAL_FEEDBACK).optional(),
  limbOrder: codeOf(lists.LIMB_ORDERS).optional(),
})

export type SettingValue = z.output<typeof settingValue>

/** As the clinic describes its machine: a quantity, a mark on a named scale, a choice, or yes/no. */
const settingValue = z.unknown().transform((sent, context) => {
  if (typeof sent === 'boolean') return sent
  const shape = typeof sent === 'string' ? choice : isScaleMark(sent) ? scaleMark : settingQuantity
  const parsed = shape.safeParse(sent)
  if (parsed.success) return parsed.data
  for (const issue of parsed.error.issues) context.issues.push({ ...issue, input: sent } as z.core.$ZodRawIssue)
  return z.NEVER
})

const choice = key
const scaleMark = z.strictObject({ scale: text(64), mark: text(64) })
const settingQuantity = quantityOfAnyKind()

function isScaleMark(sent: unknown): boolean {
  return typeof sent === 'object' && sent !== null && ('scale' in sent || 'mark' in sent)
}

const settings = z.record(z.string().regex(/^[a-z][A-Za-z0-9]{0,63}$/), settingValue)

/** Wider than any joint of the lists reaches, extension and inward rotation negative. */
const stop = quantity('angle', { min: -120, max: 200 })

export const stopsDocument = z.strictObject(
  Object.fromEntries(lists.MOVEMENTS.map((movement) => [movement, stop.optional()])) as Record<
    (typeof lists.MOVEMENTS)[number],
    z.ZodOptional<typeof stop>
  >,
)

const axisCheck = z.strictObject({
  landmark: codeOf(lists.AXIS_LANDMARKS),
  status: z.enum(['performed', 'not_performed']),
  /** A check is void once something moved afterwards. */
  afterLastAdjustment: yesNoUnknown.optional(),
  reason: codeOf(lists.NOT_PERFORMED_REASONS).optional(),
  padTravel: codeOf(lists.PAD_TRAVEL).optional(),
  padTravelDirection: codeOf(lists.PAD_TRAVEL_DIRECTIONS).optional(),
  padPositionReadFrom: codeOf(lists.PAD_POSITION_READINGS).optional(),
  /** Standard deviation of one reading of the pad's position. */
  readingError: quantity('length', { min: 0.0001, max: 0.05 }).optional(),
  padPositions: z
    .array(z.strictObject({ angle: angle(360), position: quantity('length', { min: 0, max: 1.5 }) }))
    .min(2)
    .max(50)
    .optional(),
})

const weighingReading = { limbAngleBelowHorizontal: angle(180), torque: quantity('torque', { min: -300, max: 300 }) }
const weighingConditions = { armTared: yesNoUnknown, afterLastAdjustment: yesNoUnknown }

/** Torques are positive where the machine holds the limb up. */
export const limbWeighingDocument = z.discriminatedUnion('method', [
  z.strictObject({ method: z.literal('single_angle'), ...weighingReading, ...weighingConditions }),
  z.strictObject({
    method: z.literal('several_angles'),
    readings: z.array(z.strictObject(weighingReading)).min(3).max(50),
    ...weighingConditions,
  }),
  z.strictObject({
    method: z.literal('passive_sweep'),
    readings: z
      .array(z.strictObject({ jointAngle: angle(360), torque: weighingReading.torque }))
      .min(3)
      .max(500),
    ...weighingConditions,
  }),
  z.strictObject({ method: z.literal('not_performed'), reason: codeOf(lists.NOT_PERFORMED_REASONS) }),
])

const stabilisation = z.strictObject({
  trunkStraps: codeOf(lists.TRUNK_STRAPS).optional(),
  thighStrap: codeOf(lists.THIGH_STRAP).optional(),
  otherLimbStabiliser: codeOf(lists.OPTIONAL_PART).optional(),
  lumbarSupport: codeOf(lists.LUMBAR_SUPPORT).optional(),
  hands: codeOf(lists.HAND_POSITIONS).optional(),
})

/** The machine's further optional parts, by the keys of its description: never left to mean "not used". */
const optionalParts = z.record(z.string().regex(/^[a-z][A-Za-z0-9]{0,63}$/), codeOf(lists.OPTIONAL_PART))

/** What was meant to be set, where that is known: held against what was set, value by value. */
const plannedSetup = z.strictObject({
  settings: settings.optional(),
  /** Its key in the description. */
  attachment: key.optional(),
  leverArmLength: quantity('length', { min: 0.02, max: 1.5 }).optional(),
  stabilisation: stabilisation.optional(),
  optionalParts: optionalParts.optional(),
  stops: stopsDocument.optional(),
})

/** Why a value differs from the plan. `of` names the value as a path inside the setup: "settings/seatDepth", "stops/flexion". */
const deviation = z.strictObject({
  of: z
    .string()
    .regex(/^(attachment|leverArmLength|(settings|stabilisation|optionalParts|stops)\/[a-z][A-Za-z0-9_]{0,63})$/),
  reason: codeOf(lists.DEVIATION_REASONS),
  note: text(2000).optional(),
})

export const setupDocument = z.strictObject({
  key,
  joint: z.enum(lists.JOINTS),
  side: z.enum(lists.SIDES),
  bodyPosition: codeOf(lists.BODY_POSITIONS),
  settings: settings.optional(),
  attachment: z
    .strictObject({
      key,
      leverArmLength: quantity('length', { min: 0.02, max: 1.5 }).optional(),
      padMountedOn: codeOf(lists.PAD_MOUNTS).optional(),
      padLandmark: codeOf(lists.PAD_LANDMARKS).optional(),
    })
    .optional(),
  stabilisation: stabilisation.optional(),
  optionalParts: optionalParts.optional(),
  seatDepthCheck: z
    .strictObject({ calfToSeatGap: quantity('length', { min: 0, max: 0.5 }), plannedFlexion: angle(180) })
    .optional(),
  anatomicalZero: z
    .strictObject({
      reading: angle(360),
      method: codeOf(lists.ZERO_METHODS),
      afterLastAdjustment: yesNoUnknown,
    })
    .optional(),
  stops: stopsDocument.optional(),
  axisCheck: axisCheck.optional(),
  limbWeighing: limbWeighingDocument.optional(),
  planned: plannedSetup.optional(),
  deviations: z.array(deviation).max(200).optional(),
  notes: text(4000).optional(),
})

export const directionDocument = z.strictObject({
  movement: z.enum(lists.MOVEMENTS),
  contractionMode: codeOf(lists.CONTRACTION_MODES),
  velocity: quantity('angular_velocity', { min: 0, max: 600 }),
})

export type ChannelName = 'time' | 'torque' | 'angle' | 'velocity'

export const CHANNEL_KINDS: Readonly<Record<ChannelName, QuantityKind>> = {
  time: 'duration',
  torque: 'torque',
  angle: 'angle',
  velocity: 'angular_velocity',
}

export const CHANNEL_NAMES = Object.keys(CHANNEL_KINDS) as [ChannelName, ...ChannelName[]]

/** Checked in one loop: a schema for each of a few hundred thousand numbers would take longer than the analysis. */
const samples = z
  .unknown()
  .superRefine((sent, context) => {
    if (!Array.isArray(sent)) return fail(context, [], 'wrong_type', 'An array of numbers belongs here.')
    const wrong = sent.findIndex((sample) => typeof sample !== 'number')
    if (wrong !== -1) fail(context, [wrong], 'wrong_type', 'A number belongs here.')
  })
  .meta({ type: 'array', items: { type: 'number' } }) as unknown as z.ZodType<readonly number[], readonly number[]>

const channel = z.strictObject({
  name: z.enum(CHANNEL_NAMES),
  unit: z.string(),
  values: samples.optional(),
  f32leBase64: z.string().optional(),
})

const processing = {
  torqueState: codeOf(lists.TORQUE_STATES),
  deviceFilter: codeOf(lists.DEVICE_PROCESSING),
  deviceWindowing: codeOf(lists.DEVICE_PROCESSING),
}

/** A recording that is here already is not sent again; what its samples mean is said with every set, and so can be corrected. */
const storedSha256 = z
  .string()
  .regex(/^[0-9a-f]{64}$/)
  .describe(
    'Instead of channels or csv: the hash of a recording that this clinic has stored, whose samples are taken as they are. The signs, the zero and the processing beside it hold for this set; where they differ from those it was stored under, the same samples are stored once more under the hash that they make together',
  )

export const recordingDocument = z.strictObject({
  torquePositive: z.enum([...lists.MOVEMENTS, 'unsigned']),
  anglePositive: z.enum(lists.MOVEMENTS),
  readingAtAnatomicalZero: angle(360),
  ...processing,
  sampleRate: quantity('frequency', {
    min: SESSION_LIMITS.minSampleRateHz,
    max: SESSION_LIMITS.maxSampleRateHz,
  }).optional(),
  channels: z.array(channel).max(4).optional(),
  csv: z.string().optional(),
  storedSha256: storedSha256.optional(),
})

const reported = z.strictObject({
  ...processing,
  values: z
    .array(
      z.strictObject({
        movement: z.enum(lists.MOVEMENTS),
        /** Needed where a set tests one movement in two contraction modes. */
        contractionMode: codeOf(lists.CONTRACTION_MODES).optional(),
        measure: z.enum(lists.MEASURES),
        statistic: codeOf(lists.STATISTICS),
        /** Of torqueAtAngle, and of nothing else. */
        angle: angle(360).optional(),
        quantity: quantityOfAnyKind(),
      }),
    )
    .min(1)
    .max(200),
})

export const setDocument = z.strictObject({
  key,
  setup: key,
  contractionScheme: codeOf(lists.CONTRACTION_SCHEMES),
  intendedRepetitions: z.int().min(1).max(500).optional(),
  restBefore: quantity('duration', { min: 0, max: 86_400 }).optional(),
  directions: z.array(directionDocument).min(1).max(2),
  repetitionNotes: z
    .array(
      z.strictObject({
        repetition: z.int().min(1).max(500),
        count: z.enum(['yes', 'no']),
        reason: codeOf(lists.REPETITION_REASONS),
        note: text(2000).optional(),
      }),
    )
    .max(500)
    .optional(),
  recording: recordingDocument.optional(),
  reported: reported.optional(),
  notes: text(4000).optional(),
})

const functionalResult = z.strictObject({
  key,
  test: codeOf(lists.FUNCTIONAL_TESTS),
  side: z.enum(lists.SIDES).optional(),
  /** Where it was not done between start and end of the visit. */
  performedAt: dateTime.optional(),
  formVersion: text(64).optional(),
  trials: z.array(quantityOfAnyKind()).min(1).max(20).optional(),
  total: quantityOfAnyKind().optional(),
  observation: codeOf(lists.OBSERVATIONS).optional(),
  note: text(2000).optional(),
})

export const sessionDocument = z.strictObject({
  externalId: systemAndValue,
  subject: personReference,
  episode: recordReference.optional(),
  dynamometer: z
    .strictObject({
      id: z.uuid().optional(),
      externalId: systemAndValue.optional(),
      descriptionVersion: z.int().min(1).max(1_000_000).optional(),
    })
    .superRefine((reference, context) => {
      if ((reference.id === undefined) === (reference.externalId === undefined)) {
        fail(context, [], 'exactly_one', 'Exactly one of id, externalId belongs here.')
      }
    })
    .optional(),
  operator: personReference.optional(),
  startedAt: dateTime,
  endedAt: dateTime.optional(),
  purpose: codeOf(lists.SESSION_PURPOSES),
  /** Of a repeat test: the session it repeats after setting up anew. */
  repeatOf: recordReference.optional(),
  bodyMass: quantity('mass', { min: 15, max: 350 }).optional(),
  screening: screening.optional(),
  conditions: conditions.optional(),
  setups: z.array(setupDocument).max(SESSION_LIMITS.setups).default([]),
  sets: z.array(setDocument).max(SESSION_LIMITS.sets).default([]),
  functionalResults: z.array(functionalResult).max(200).default([]),
  notes: text(4000).optional(),
})

/** Takes the place of a session: what was wrong with the one it corrects, and the whole corrected document. */
export const amendmentDocument = z.strictObject({ reason: text(2000), session: sessionDocument })

/** Why a session was entered in error. */
export const withdrawalDocument = z.strictObject({ reason: text(2000) })

export type SessionDocument = z.output<typeof sessionDocument>
export type SetupDocument = SessionDocument['setups'][number]
export type SetDocument = SessionDocument['sets'][number]
export type RecordingDocument = NonNullable<SetDocument['recording']>
export type ReportedDocument = NonNullable<SetDocument['reported']>
export type FunctionalResultDocument = SessionDocument['functionalResults'][number]
