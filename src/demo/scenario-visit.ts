import { LIST_VERSION, SCREENING_QUESTIONS } from '../domain/code-lists.ts'
import { encodeRecording, type RecordingDocument, type RecordingEncoding } from './recording-encodings.ts'
import { DESCRIPTION_VERSION, DYNAMOMETER, SUBJECT, SYSTEMS } from './scenario-clinic.ts'
import { staticLimbWeighing, type LimbModel } from './simulator/limb.ts'
import { KNEE_EXTENSORS, KNEE_FLEXORS, torqueVelocityFactor, type MuscleModel } from './simulator/muscle.ts'
import { seededRandom } from './simulator/random.ts'
import { simulateRecording } from './simulator/simulate-recording.ts'

export type Side = 'left' | 'right'
type Group = 'extension' | 'flexion'
interface Quantity {
  readonly value: number
  readonly unit: string
}

/** What the story says about one visit; the documents are worked out from it. */
export interface VisitPlan {
  readonly daysAfterSurgery: number
  readonly time: string
  readonly purpose: 'pre_operative_test' | 'progress_test'
  readonly bodyMassKg: number
  /** Peak torque at 60 deg/s that the subject is made for, before scatter. */
  readonly strength: Readonly<Record<Group, Readonly<Record<Side, number>>>>
  readonly velocities: readonly number[]
  readonly encoding: RecordingEncoding
  readonly axisCheck?: boolean
  readonly trunkStraps?: 'both' | 'none'
  readonly pain: { readonly before: number; readonly during: number; readonly after: number }
  /** This repetition of the involved knee at 60 deg/s broke off half way. */
  readonly abortedInvolved60?: number
  readonly functional: 'none' | 'questionnaires' | 'hops' | 'full'
}

export interface VisitDocument {
  readonly externalId: { readonly system: string; readonly value: string }
  readonly subject: object
  readonly episode: object
  readonly dynamometer: object
  readonly operator: object
  readonly startedAt: string
  readonly endedAt: string
  readonly purpose: string
  readonly bodyMass: Quantity
  readonly screening: object
  readonly conditions: object
  readonly setups: readonly ReturnType<typeof setupOf>[]
  readonly sets: readonly SetDocument[]
  readonly functionalResults: readonly FunctionalResult[]
}

export interface SetDocument {
  readonly key: string
  readonly setup: string
  readonly contractionScheme: 'reciprocal'
  readonly intendedRepetitions: number
  readonly restBefore: Quantity
  readonly directions: readonly {
    readonly movement: Group
    readonly contractionMode: 'isokinetic_concentric'
    readonly velocity: Quantity
  }[]
  readonly repetitionNotes?: readonly { readonly repetition: number; readonly count: 'no'; readonly reason: string }[]
  readonly recording?: RecordingDocument
  readonly reported?: object
}

export interface FunctionalResult {
  readonly key: string
  readonly test: string
  readonly side?: Side
  readonly performedAt?: string
  readonly formVersion?: string
  readonly trials?: readonly Quantity[]
  readonly total?: Quantity
}

interface VisitContext {
  readonly date: string
  readonly visitNumber: string
}

const INVOLVED: Side = 'right'
const UNINVOLVED_FIRST: readonly Side[] = ['left', 'right']
const REPETITIONS: Readonly<Record<number, number>> = { 60: 5, 180: 5, 300: 8 }
const WEIGHING_ANGLE_DEG = 35
const LEVER_ARM_M = 0.3

/** The right shank lost a little muscle; both carry the same arm and pad. */
const LIMBS: Readonly<Record<Side, LimbModel>> = {
  left: { gravityMomentNm: 12.5, gravityPhaseDeg: 0, thighRaiseDeg: 0, inertiaKgM2: 0.43 },
  right: { gravityMomentNm: 12.1, gravityPhaseDeg: 0, thighRaiseDeg: 0, inertiaKgM2: 0.42 },
}

/** How far the knee axis stood from the machine's, in metres forward and up: well inside what skin marks can tell. */
const AXIS_OFFSET_M: Readonly<Record<Side, readonly [number, number]>> = {
  left: [0.002, -0.003],
  right: [0.004, -0.002],
}

export function buildVisit(plan: VisitPlan, context: VisitContext & { readonly seed: number }): VisitDocument {
  const sets = UNINVOLVED_FIRST.flatMap((side, sideIndex) =>
    plan.velocities.map((velocity, velocityIndex): SetDocument => {
      const aborted = side === INVOLVED && velocity === 60 ? plan.abortedInvolved60 : undefined
      const recording = simulateRecording({
        seed: context.seed + 10 * sideIndex + velocityIndex,
        directions: [
          { muscle: 'extension', mode: 'concentric', velocityDegS: velocity },
          { muscle: 'flexion', mode: 'concentric', velocityDegS: velocity },
        ],
        repetitions: REPETITIONS[velocity]!,
        extensors: muscleGiving(KNEE_EXTENSORS, plan.strength.extension[side]),
        flexors: muscleGiving(KNEE_FLEXORS, plan.strength.flexion[side]),
        limb: LIMBS[side],
        overshootFraction: 0.06,
        impactTorqueNm: velocity / 20,
        torqueNoiseNm: 0.5,
        repetitionScatter: 0.02,
        fatiguePerRepetition: 0.004,
        brokenOff: aborted === undefined ? new Map<number, number>() : new Map([[aborted, 0.5]]),
      })
      return {
        ...setHeading(side, velocity, velocityIndex, sideIndex),
        ...(aborted === undefined
          ? {}
          : { repetitionNotes: [{ repetition: aborted, count: 'no', reason: 'aborted' } as const] }),
        recording: encodeRecording(recording, plan.encoding),
      }
    }),
  )
  return { ...visitHeading(plan, context), sets, functionalResults: functionalResults(plan, context) }
}

/** What a clinician saw, written down as a session without a test. */
export function observationSession(context: VisitContext & { readonly staffNumber: string; readonly note: string }) {
  const { date, visitNumber, staffNumber, note } = context
  return {
    externalId: { system: SYSTEMS.visit, value: visitNumber },
    subject: { identifier: SUBJECT.identifiers[0] },
    episode: { externalId: { system: SYSTEMS.case, value: 'TC-0912' } },
    operator: { identifier: { system: SYSTEMS.staff, value: staffNumber } },
    startedAt: `${date}T17:00:00+01:00`,
    endedAt: `${date}T17:20:00+01:00`,
    purpose: 'criteria_test',
    functionalResults: [{ key: 'field', test: 'on_field_rehabilitation', observation: 'completed', note }],
  } as const
}

/** A visit of which only printed values are left, written in another unit of torque than the document says. */
export function reportedVisit(
  plan: VisitPlan,
  context: VisitContext & { readonly reportedPerNewtonMetre: number },
): VisitDocument {
  const sets = UNINVOLVED_FIRST.flatMap((side, sideIndex) =>
    plan.velocities.map((velocity, velocityIndex): SetDocument => {
      const values = (['extension', 'flexion'] as const).map((movement) => {
        const model = movement === 'extension' ? KNEE_EXTENSORS : KNEE_FLEXORS
        const slower = torqueVelocityFactor(model, velocity) / torqueVelocityFactor(model, 60)
        const torque = plan.strength[movement][side] * slower * context.reportedPerNewtonMetre
        const quantity = { value: Math.round(torque * 10) / 10, unit: 'N.m' }
        return { movement, measure: 'peakTorque', statistic: 'best', quantity }
      })
      return {
        ...setHeading(side, velocity, velocityIndex, sideIndex),
        reported: { torqueState: 'gravity_corrected', deviceFilter: 'unknown', deviceWindowing: 'unknown', values },
      }
    }),
  )
  return { ...visitHeading(plan, context), sets, functionalResults: [] }
}

function visitHeading(plan: VisitPlan, { date, visitNumber }: VisitContext) {
  const score = (value: number): Quantity => ({ value, unit: '{score}' })
  const [hour, minute] = plan.time.split(':').map(Number) as [number, number]
  const end = hour * 60 + minute + 50
  const endTime = [Math.floor(end / 60), end % 60].map((part) => String(part).padStart(2, '0')).join(':')
  return {
    externalId: { system: SYSTEMS.visit, value: visitNumber },
    subject: { identifier: SUBJECT.identifiers[0] },
    episode: { externalId: { system: SYSTEMS.case, value: 'TC-0912' } },
    dynamometer: { externalId: DYNAMOMETER.externalId, descriptionVersion: DESCRIPTION_VERSION },
    operator: { identifier: { system: SYSTEMS.staff, value: 'T-12' } },
    startedAt: `${date}T${plan.time}:00+01:00`,
    endedAt: `${date}T${endTime}:00+01:00`,
    purpose: plan.purpose,
    bodyMass: { value: plan.bodyMassKg, unit: 'kg' },
    screening: {
      listVersion: LIST_VERSION,
      answers: SCREENING_QUESTIONS.map(({ code }) => ({ question: code, answer: 'no' })),
      pain: {
        scale: 'numeric_rating_0_10',
        before: score(plan.pain.before),
        during: score(plan.pain.during),
        after: score(plan.pain.after),
      },
      effusion: UNINVOLVED_FIRST.map((side) => ({ joint: 'knee', side, before: 'none', after: 'none' })),
    },
    conditions: {
      warmUp: { activity: 'cycling', duration: { value: 8, unit: 'min' } },
      familiarisation: plan.purpose === 'pre_operative_test' ? 'same_session' : 'earlier_session',
      verbalEncouragement: 'script_a',
      visualFeedback: 'none',
      limbOrder: 'uninvolved_first',
    },
    setups: UNINVOLVED_FIRST.map((side) => setupOf(side, plan)),
  } as const
}

function setHeading(side: Side, velocity: number, velocityIndex: number, sideIndex: number) {
  const restS = velocityIndex > 0 ? 90 : sideIndex > 0 ? 300 : 120
  return {
    key: `${side}-${velocity}`,
    setup: `${side}-knee`,
    contractionScheme: 'reciprocal',
    intendedRepetitions: REPETITIONS[velocity]!,
    restBefore: { value: restS, unit: 's' },
    directions: (['extension', 'flexion'] as const).map((movement) => ({
      movement,
      contractionMode: 'isokinetic_concentric' as const,
      velocity: { value: velocity, unit: 'deg/s' },
    })),
  } as const
}

function setupOf(side: Side, plan: VisitPlan) {
  const weighing = staticLimbWeighing(LIMBS[side], WEIGHING_ANGLE_DEG)
  return {
    key: `${side}-knee`,
    joint: 'knee',
    side,
    bodyPosition: 'seated',
    settings: {
      backrestAngle: { value: 85, unit: 'deg' },
      seatDepth: { value: 41.5, unit: 'cm' },
      axisHeight: { value: 30.5, unit: 'cm' },
      machineYaw: { value: side === 'right' ? 4 : -4, unit: 'deg' },
      floorRail: { scale: `rail-${side}`, mark: '5' },
      seatWedge: 'none',
      footRestFolded: true,
    },
    attachment: { key: 'shin-pad', leverArmLength: { value: LEVER_ARM_M, unit: 'm' }, padMountedOn: 'arm' },
    stabilisation: {
      trunkStraps: plan.trunkStraps ?? 'both',
      thighStrap: 'firm',
      otherLimbStabiliser: 'used',
      lumbarSupport: 'none',
      hands: 'holding_handles',
    },
    seatDepthCheck: {
      calfToSeatGap: { value: 3.5, unit: 'cm' },
      plannedFlexion: { value: 95, unit: 'deg' },
    },
    anatomicalZero: { reading: { value: 0, unit: 'deg' }, method: 'goniometer', afterLastAdjustment: 'yes' },
    stops: { extension: { value: 5, unit: 'deg' }, flexion: { value: 95, unit: 'deg' } },
    axisCheck: plan.axisCheck === true ? axisCheckOf(side, plan) : AXIS_CHECK_MISSING,
    limbWeighing: {
      method: 'single_angle',
      limbAngleBelowHorizontal: { value: weighing.limbAngleBelowHorizontalDeg, unit: 'deg' },
      torque: { value: Math.round(weighing.torqueNm * 10) / 10, unit: 'N.m' },
      armTared: 'no',
      afterLastAdjustment: 'yes',
    },
  } as const
}

const AXIS_CHECK_MISSING = { landmark: 'lateral_femoral_condyle', status: 'not_performed', reason: 'time' } as const

/**
 * Where a pad fixed on the arm touches the shin, read from a skin mark. With the knee axis off the machine's by (x, y) the
 * distance from knee axis to pad is R cos e - (x cos b - y sin b), with sin e = (x sin b + y cos b) / R and b the knee angle.
 */
function axisCheckOf(side: Side, plan: VisitPlan) {
  const [x, y] = AXIS_OFFSET_M[side]
  const random = seededRandom(plan.daysAfterSurgery + 1000 + (side === 'left' ? 1 : 2))
  const padPositions = [90, 70, 45, 20, 0].map((angleDeg) => {
    const b = (angleDeg * Math.PI) / 180
    const e = Math.asin((x * Math.sin(b) + y * Math.cos(b)) / LEVER_ARM_M)
    const fromAxisM = LEVER_ARM_M * Math.cos(e) - (x * Math.cos(b) - y * Math.sin(b))
    const positionMm = 1000 * fromAxisM - 88 + random.normal()
    return { angle: { value: angleDeg, unit: 'deg' }, position: { value: Math.round(positionMm), unit: 'mm' } }
  })
  return {
    landmark: 'lateral_femoral_condyle',
    status: 'performed',
    padTravel: 'slight',
    padPositionReadFrom: 'skin_mark',
    readingError: { value: 1, unit: 'mm' },
    padPositions,
  } as const
}

/** A muscle of the model's shape whose peak torque at 60 deg/s is the wanted one. */
function muscleGiving(model: MuscleModel, peakAt60Nm: number): MuscleModel {
  return { ...model, maximumTorqueNm: peakAt60Nm / torqueVelocityFactor(model, 60) }
}

function functionalResults(plan: VisitPlan, { date }: VisitContext): FunctionalResult[] {
  const month = plan.daysAfterSurgery / 30.4
  /** Share of the other side that the involved leg reaches; it grows ever more slowly. */
  const share = (final: number): number => final - 0.2 * Math.exp(-(month - 4) / 2.2)
  const rounded = (value: number): number => Math.round(value)

  const hop = (key: string, test: string, otherLegCm: number, final: number): FunctionalResult[] => [
    {
      key: `${key}-l`,
      test,
      side: 'left',
      trials: [otherLegCm - 4, otherLegCm].map((value) => ({ value, unit: 'cm' })),
    },
    {
      key: `${key}-r`,
      test,
      side: 'right',
      trials: [0.97, 1].map((part) => ({ value: rounded(otherLegCm * share(final) * part), unit: 'cm' })),
    },
  ]
  const total = (key: string, value: number, formVersion?: string): FunctionalResult => ({
    key: key.replaceAll('_', '-'),
    test: key,
    ...(formVersion === undefined ? {} : { formVersion }),
    total: { value, unit: '{score}' },
  })
  const questionnaires = [
    total('acl_rsi', month < 0 ? 38 : rounded(78 - 60 * Math.exp(-month / 4.5)), '12_items'),
    total('kos_adls', month < 0 ? 80 : rounded(97 - 40 * Math.exp(-month / 3.5))),
  ]
  const hops = [
    ...hop('hop', 'single_hop_distance', 149, 0.958),
    ...hop('triple', 'triple_hop_distance', 452, 0.946),
    ...hop('cross', 'triple_crossover_hop_distance', 428, 0.9),
  ]
  switch (plan.functional) {
    case 'none':
      return []
    case 'questionnaires':
      return questionnaires
    case 'hops':
      return [...hops, ...questionnaires]
    case 'full':
      return [
        ...hops,
        {
          key: 'run',
          test: 'agility_t_run_time',
          performedAt: `${date}T17:20:00+01:00`,
          trials: [{ value: 10.84, unit: 's' }],
        },
        ...questionnaires,
      ]
  }
}
