/**
 * The next setup in the order of the work: who, what is allowed today, stops, parts, chair and machine, fitting, what is measured
 * anew, what changed since the reference, the planned test. Every value says where it comes from.
 */
import { movementPair, type ContractionMode, type Movement } from '../../compute/index.ts'
import { AXIS_LANDMARKS, LIST_VERSION, SCREENING_QUESTIONS } from '../../domain/code-lists.ts'
import { LOCAL_PROTOCOL_FIRST, MEASURED_ANEW, STOP_CRITERIA } from '../../domain/cautions.ts'
import { toleranceOf, type SettingDescription } from '../../domain/dynamometer-document.ts'
import type { Quantity } from '../../domain/quantities.ts'
import { stopsDocument, type SettingValue, type SetupDocument } from '../../domain/session-document.ts'
import type { TestPlanDocument } from '../../domain/test-plan-document.ts'
import { brokenPrecautions, inFull, inWords, isGuarded, isInForce, precautionsOf, weeksSinceSurgery, type Precaution } from './broken-precautions.ts' // prettier-ignore
import type { LastSet, Limb, NextSetupRecord } from './load-next-setup.ts'
import { differencesFromReference } from './setup-differences.ts'
import { nextSetupWarnings } from './next-setup-warnings.ts'
import { StartValues, type Started } from './start-values.ts'

export interface NextSetupAsk {
  readonly limb: Limb
  readonly on: string
  readonly clinicName: string
}

export function describeNextSetup(record: NextSetupRecord, ask: NextSetupAsk) {
  const { description } = record.dynamometer
  const sources = {
    reference: record.reference?.setup ?? null,
    last: record.last?.setup ?? null,
    otherReference: record.otherReference?.setup ?? null,
    otherLast: record.otherLast?.setup ?? null,
  }
  const start = new StartValues(sources, description, ask.limb.side)
  const stops = stopsOf(record, start, ask)
  return {
    identityCheck: identityOf(record, ask),
    precautionsAndLimits: precautionsToday(record, ask),
    mechanicalStops: stops.map(shownStop),
    partsToFetch: partsOf(record, start),
    chairAndMachine: [
      item(
        'bodyPosition',
        'Body position',
        start.of((setup) => setup.bodyPosition),
      ),
      ...start.settings.map((started) => settingItem(started)),
    ],
    fittingTheSubject: fittingOf(start, ask),
    measureAgain: MEASURED_ANEW.map((entry) => ({ ...entry, carriedOver: 'never' as const })),
    changedSinceReference: differencesFromReference(record),
    plannedTest: plannedTest(record, ask, stops),
    warnings: nextSetupWarnings(record, start, ask.on),
    notes: [
      LOCAL_PROTOCOL_FIRST,
      'Start values are not final values: write down what was set, and why where it differs.',
    ],
  }
}

export type NextSetup = ReturnType<typeof describeNextSetup>

function identityOf(record: NextSetupRecord, { limb, on, clinicName }: NextSetupAsk) {
  const { name, birthDate, identifiers } = record.subject.document as {
    name?: string
    birthDate?: string
    identifiers?: readonly { system: string; value: string }[]
  }
  const { dynamometer, reference } = record
  return {
    clinic: clinicName,
    on,
    subject: {
      id: record.subject.id,
      ...(name === undefined ? {} : { name }),
      ...(birthDate === undefined ? {} : { birthDate }),
      identifiers: (identifiers ?? []).map(({ system, value }) => ({ system, value })),
    },
    limb: { joint: limb.joint, side: limb.side },
    dynamometer: { id: dynamometer.id, name: dynamometer.description.name, descriptionVersion: dynamometer.version },
    reference:
      reference === null
        ? null
        : {
            id: reference.reference.id,
            version: reference.reference.version,
            pinnedAt: reference.reference.recordedAt.toISOString(),
            sessionId: reference.row.sessionId,
            testedOn: reference.row.startedAt.slice(0, 10),
          },
    ask: ['Name and date of birth, from the person', `Which ${limb.joint} is tested today: ${limb.side}`],
  }
}

function precautionsToday(record: NextSetupRecord, { limb, on }: NextSetupAsk) {
  return {
    episodes: record.episodes.map((episode) => ({
      id: episode.id,
      involvedSide: episode.involvedSide,
      surgeryOn: episode.surgeryOn,
      sinceSurgery: weeks(weeksSinceSurgery(episode, on)),
      speaksOfThisLimb: isGuarded(episode, limb.side) ? ('yes' as const) : ('no' as const),
      precautions: precautionsOf(episode).map((precaution) => ({
        kind: precaution.kind,
        inWords: inWords(precaution),
        setBy: precaution.setBy,
        inForce: isInForce(precaution, weeksSinceSurgery(episode, on)) ? ('yes' as const) : ('no' as const),
        ...(precaution.note === undefined ? {} : { note: precaution.note }),
      })),
    })),
    screening: { listVersion: LIST_VERSION, questions: SCREENING_QUESTIONS.length },
    stopCriteria: [...STOP_CRITERIA],
  }
}

const weeks = (value: number | null) => (value === null ? null : { value, unit: 'wk' })

interface Stop {
  readonly movement: Movement
  readonly value: Quantity
  readonly origin: Started<unknown>['origin']
  /** Of a limit of today that is narrower. */
  readonly limitedToDeg: number | null
}

/** Those of the plan, else of the record. Narrowed to a limit of today: the machine must not be able to go further. */
function stopsOf(record: NextSetupRecord, start: StartValues, { limb, on }: NextSetupAsk): Stop[] {
  const agreed = goneBeyond(record.plan)
  const limits = record.episodes
    .filter((episode) => isGuarded(episode, limb.side))
    .flatMap((episode) => precautionsOf(episode).filter((one) => isInForce(one, weeksSinceSurgery(episode, on))))
    .filter((precaution) => precaution.kind === 'range_limit')
    .filter((precaution) => !agreed.includes(inFull(precaution)))
  const recorded = start.of((setup) => setup.stops)
  const planned = stopsDocument.parse((record.plan?.document as TestPlanDocument | undefined)?.stops ?? {})
  const stops = Object.entries({ ...recorded.value, ...planned }) as [Movement, Quantity][]
  return stops.map(([movement, value]) => {
    const limited = limits
      .filter((limit) => limit.movement === undefined || movementPair(limit.movement).includes(movement))
      .reduce(
        (angle, { lowest, highest }) => Math.min(Math.max(angle, lowest.canonicalValue), highest.canonicalValue),
        value.canonicalValue,
      )
    return {
      movement,
      value,
      origin: planned[movement] === undefined ? recorded.origin : 'plan',
      limitedToDeg: limited === value.canonicalValue ? null : limited,
    }
  })
}

function shownStop({ movement, value, origin, limitedToDeg }: Stop) {
  const asWritten = plain(value)
  if (limitedToDeg === null) return { movement, value: asWritten, origin, limitedBy: null }
  return {
    movement,
    value: { value: limitedToDeg, unit: 'deg' },
    origin,
    limitedBy: { precaution: 'range_limit' as const, instead: asWritten },
  }
}

/** What a clinician's reason was given for: precautions that came, or were changed, after the plan are not among them. */
function goneBeyond(plan: NextSetupRecord['plan']): readonly string[] {
  return plan === null || plan.precautionReason === null ? [] : (plan.brokenPrecautions as string[])
}

function partsOf(record: NextSetupRecord, start: StartValues) {
  const { description } = record.dynamometer
  const attachment = start.of((setup) => setup.attachment?.key)
  const label = description.attachments.find(({ key }) => key === attachment.value)?.label
  return [
    item('attachment', 'Attachment', { ...attachment, value: label ?? attachment.value }),
    ...STRAPS.map(([key, label]) => item(key, label, start.of((setup) => setup.stabilisation?.[key]))), // prettier-ignore
    ...description.optionalParts.map(({ key, label }) => item(key, label, start.of((setup) => setup.optionalParts?.[key]))), // prettier-ignore
  ]
}

/** Of these the parts are fetched before the person sits; how they are fitted comes later. */
const STRAPS = [
  ['otherLimbStabiliser', 'Stabiliser of the other limb'],
  ['thighStrap', 'Thigh strap'],
  ['lumbarSupport', 'Lumbar support'],
  ['trunkStraps', 'Trunk straps'],
] as const

function fittingOf(start: StartValues, { limb }: NextSetupAsk) {
  const arm = start.of((setup) => setup.attachment?.leverArmLength)
  const landmark = start.of((setup) => setup.axisLandmark)
  const label = AXIS_LANDMARKS.find(({ code }) => code === landmark.value)?.label
  const position = start.of((setup) => setup.bodyPosition).value
  return [
    ...(limb.joint === 'knee' && (position === null || position === 'seated') ? [SEAT_DEPTH_CHECK] : []),
    item('axisLandmark', 'Landmark opposite the centre of the machine’s arm', { ...landmark, value: label ?? null }),
    item('padLandmark', 'Pad, by landmark', start.of((setup) => setup.attachment?.padLandmark)), // prettier-ignore
    item('padMountedOn', 'Pad mounted on', start.of((setup) => setup.attachment?.padMountedOn)), // prettier-ignore
    item('leverArmLength', 'Lever arm, as it came out', {
      ...arm,
      value: arm.value === null ? null : plain(arm.value),
    }),
    item('hands', 'Hands', start.of((setup) => setup.stabilisation?.hands)), // prettier-ignore
  ]
}

/** Common practice, no source. What was found last time says nothing about how the person sits today. */
const SEAT_DEPTH_CHECK = item('seatDepthCheck', 'Gap between calf and seat edge', {
  value: 'About two fingers, up to 100 deg of flexion',
  origin: 'rule_of_thumb',
})

type Shown = { value: number; unit: string } | { scale: string; mark: string } | string | boolean

interface Item extends Started<Shown> {
  readonly key: string
  readonly label: string
  readonly tolerance?: { readonly value: number; readonly unit: string }
}

function item(key: string, label: string, { value, origin }: Started<Shown>): Item {
  return { key, label, value, origin }
}

function settingItem({ setting, value, origin }: Started<SettingValue> & { setting: SettingDescription }): Item {
  const tolerance = toleranceOf(setting)
  return {
    ...item(setting.key, setting.label, { value: value === null ? null : shown(value), origin }),
    ...(setting.kind === 'quantity' && tolerance !== null
      ? { tolerance: { value: tolerance, unit: setting.unit } }
      : {}),
  }
}

function shown(value: SettingValue): Shown {
  if (typeof value !== 'object') return value
  return 'mark' in value ? { scale: value.scale, mark: value.mark } : plain(value)
}

const plain = ({ value, unit }: Quantity): { value: number; unit: string } => ({ value, unit })

interface PlannedSet {
  readonly directions: readonly { movement: Movement; contractionMode: ContractionMode; velocity: { value: number; unit: string } }[] // prettier-ignore
  readonly contractionScheme: string
  readonly intendedRepetitions?: number
  readonly restBefore?: { value: number; unit: string }
}

/** The plan on record, else the sets of the last visit. What breaks a precaution today is left out and says so. */
function plannedTest(record: NextSetupRecord, ask: NextSetupAsk, stops: readonly Stop[]) {
  const { plan } = record
  const sets = (plan === null ? record.lastSets : (plan.document as TestPlanDocument).sets).map(asPlanned)
  const agreed = goneBeyond(plan)
  const judged = sets.map((set) => {
    const broken = brokenToday(record, ask, set, stops)
    const stays = broken.every((precaution) => agreed.includes(inFull(precaution)))
    return { stays, set: { ...set, beyond: broken.map(inWords) } }
  })
  return {
    origin: plan !== null ? ('plan' as const) : sets.length > 0 ? ('last_session' as const) : ('none' as const),
    planId: plan?.id ?? null,
    plannedOn: plan?.plannedOn ?? null,
    /** Why a plan goes beyond a precaution: a clinician's words. */
    precautionReason: plan?.precautionReason ?? null,
    sets: judged.flatMap(({ stays, set }) => (stays ? [set] : [])),
    leftOut: judged.flatMap(({ stays, set }) => (stays ? [] : [set])),
  }
}

function asPlanned(set: LastSet | TestPlanDocument['sets'][number]): PlannedSet {
  const directions = set.directions as PlannedSet['directions']
  return {
    directions: directions.map(({ movement, contractionMode, velocity }) => ({
      movement,
      contractionMode,
      velocity: { value: velocity.value, unit: velocity.unit },
    })),
    contractionScheme: set.contractionScheme,
    ...(set.intendedRepetitions === undefined ? {} : { intendedRepetitions: set.intendedRepetitions }),
    ...(set.restBefore === undefined ? {} : { restBefore: { value: set.restBefore.value, unit: set.restBefore.unit } }),
  }
}

function brokenToday(
  record: NextSetupRecord,
  { limb, on }: NextSetupAsk,
  { directions }: PlannedSet,
  stops: readonly Stop[],
): readonly Precaution[] {
  const angles: SetupDocument['stops'] = Object.fromEntries(
    stops.map(({ movement, value, limitedToDeg }) => [movement, { ...value, canonicalValue: limitedToDeg ?? value.canonicalValue }]), // prettier-ignore
  )
  const test = { side: limb.side, directions, stops: angles, withoutStops: 'breaks_range_limits' } as const
  return record.episodes.flatMap((episode) => brokenPrecautions(episode, test, on))
}
