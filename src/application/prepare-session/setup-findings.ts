/** What a setup says about itself: limb weight, axis, seat depth. Facts of the subject sharpen it where they are known. */
import { compareWeighings, limbOrientation, weighingPlausibility, weighLimb } from '../../compute/index.ts'
import type { Finding, GravityModel, LimbWeighing, Movement, WeighingContext } from '../../compute/index.ts'
import { JOINT_MOVEMENTS } from '../../domain/code-lists.ts'
import type { SessionDocument, SetupDocument } from '../../domain/session-document.ts'
import { axisOffset } from './axis-offset.ts'
import type { Judged, PreparedSetup } from './prepared-session.ts'

export interface SubjectFacts {
  readonly heightM: number | null
  readonly sex: 'female' | 'male' | null
}

interface Gravity {
  readonly model: GravityModel | null
  readonly momentNm: number | null
  readonly reason: string | null
  readonly findings: readonly Finding[]
}

/** In the order of the document's setups. Cheap: may be called again once the subject is known. */
export function describeSetups(
  session: Pick<SessionDocument, 'setups' | 'bodyMass'> & {
    readonly sets: readonly Pick<SessionDocument['sets'][number], 'setup' | 'directions'>[]
  },
  subject: SubjectFacts | null,
): readonly PreparedSetup[] {
  const bodyMassKg = session.bodyMass?.canonicalValue ?? null
  return session.setups.map((setup) => {
    const used = session.sets.find((set) => set.setup === setup.key)?.directions[0]?.movement ?? null
    const gravity = gravityModelFor(setup, used)
    return {
      key: setup.key,
      side: setup.side,
      gravityMomentNm:
        gravity.momentNm === null
          ? { value: null, reason: gravity.reason ?? 'limb_not_weighed' }
          : { value: gravity.momentNm },
      limbWeightPlausible: limbWeightPlausible(setup, gravity.momentNm, bodyMassKg, subject),
      weighingsAgree: weighingsAgree(setup, session.setups, bodyMassKg),
      axisOffset: axisOffset(setup),
      seatDepthSufficient: seatDepthSufficient(setup),
      findings: [...gravity.findings, ...handlingFindings(setup)],
    }
  })
}

/** The gravity model of a setup for a movement (null: the first of the joint), or why there is none. */
export function gravityModelFor(
  setup: Pick<SetupDocument, 'joint' | 'bodyPosition' | 'limbWeighing'>,
  movement: Movement | null,
): Gravity {
  const weighing = setup.limbWeighing
  const none = (reason: string): Gravity => ({ model: null, momentNm: null, reason, findings: [] })
  if (weighing === undefined || weighing.method === 'not_performed') return none('limb_not_weighed')
  const about = movement ?? JOINT_MOVEMENTS[setup.joint][0]?.[0]
  const orientation = about === undefined ? null : limbOrientation(setup.joint, about, setup.bodyPosition)
  return orientation === null ? none('limb_orientation_not_settled') : weighLimb(asComputed(weighing), orientation)
}

function asComputed(
  weighing: Exclude<NonNullable<SetupDocument['limbWeighing']>, { method: 'not_performed' }>,
): LimbWeighing {
  const { armTared, afterLastAdjustment } = weighing
  const conditions = { armTared, afterLastAdjustment }
  switch (weighing.method) {
    case 'single_angle':
      return {
        ...conditions,
        method: 'single_angle',
        limbAngleBelowHorizontalDeg: weighing.limbAngleBelowHorizontal.canonicalValue,
        torqueNm: weighing.torque.canonicalValue,
      }
    case 'several_angles':
      return {
        ...conditions,
        method: 'several_angles',
        readings: weighing.readings.map((reading) => ({
          limbAngleBelowHorizontalDeg: reading.limbAngleBelowHorizontal.canonicalValue,
          torqueNm: reading.torque.canonicalValue,
        })),
      }
    case 'passive_sweep':
      return {
        ...conditions,
        method: 'passive_sweep',
        angleDeg: weighing.readings.map((reading) => reading.jointAngle.canonicalValue),
        torqueNm: weighing.readings.map((reading) => reading.torque.canonicalValue),
      }
  }
}

function limbWeightPlausible(
  setup: SetupDocument,
  momentNm: number | null,
  bodyMassKg: number | null,
  subject: SubjectFacts | null,
): Judged {
  if (momentNm === null) return { verdict: 'unknown', reason: 'limb_not_weighed' }
  const { plausible, reason } = weighingPlausibility({
    joint: setup.joint,
    momentNm,
    bodyMassKg,
    heightM: subject?.heightM ?? null,
    sex: subject?.sex ?? null,
    armTared: armTaredOf(setup),
    armAndAttachmentNm: null,
  })
  return { verdict: plausible, reason }
}

function weighingsAgree(setup: SetupDocument, setups: readonly SetupDocument[], bodyMassKg: number | null): Judged {
  const other = setups.find(
    ({ joint, side, bodyPosition }) =>
      joint === setup.joint && side !== setup.side && bodyPosition === setup.bodyPosition,
  )
  const one = weighingContext(setup, bodyMassKg)
  const two = other === undefined ? null : weighingContext(other, bodyMassKg)
  if (one === null || two === null) return { verdict: 'unknown', reason: 'limb_not_weighed_on_both_sides' }
  const { agree, reason } = compareWeighings(one, two)
  return { verdict: agree, reason }
}

function weighingContext(setup: SetupDocument, bodyMassKg: number | null): WeighingContext | null {
  const { momentNm } = gravityModelFor(setup, null)
  if (momentNm === null) return null
  return {
    momentNm,
    bodyMassKg,
    leverArmM: setup.attachment?.leverArmLength?.canonicalValue ?? null,
    attachment: setup.attachment?.key ?? null,
    armTared: armTaredOf(setup),
  }
}

function armTaredOf({ limbWeighing }: SetupDocument): 'yes' | 'no' | 'unknown' {
  return limbWeighing === undefined || limbWeighing.method === 'not_performed' ? 'unknown' : limbWeighing.armTared
}

/** What the trade holds against a setup whatever its numbers; common practice, no source. */
function handlingFindings(setup: SetupDocument): readonly Finding[] {
  const { axisCheck, anatomicalZero, limbWeighing, stabilisation } = setup
  const findings: Finding[] = []
  if (axisCheck?.afterLastAdjustment === 'no') {
    const detail = 'Something was adjusted after the axis was checked: the check is void.'
    findings.push({ code: 'axis_checked_before_last_adjustment', level: 'caution', detail })
  }
  if (axisCheck?.afterLastAdjustment === 'unknown') {
    const detail = 'Nobody wrote down whether something was adjusted after the axis was checked.'
    findings.push({ code: 'axis_check_time_unknown', level: 'caution', detail })
  }
  if (anatomicalZero?.afterLastAdjustment === 'unknown') {
    const detail =
      'Nobody wrote down whether something was adjusted after the anatomical zero was set: it compares with none.'
    findings.push({ code: 'zero_time_unknown', level: 'caution', detail })
  }
  if (
    limbWeighing !== undefined &&
    limbWeighing.method !== 'not_performed' &&
    limbWeighing.afterLastAdjustment === 'no'
  ) {
    const detail = 'Something was adjusted after the limb was weighed: the weighing is void and gravity is left in.'
    findings.push({ code: 'weighed_before_last_adjustment', level: 'caution', detail })
  }
  if (axisCheck?.padTravel === 'clear') {
    const detail = 'The pad clearly moves along the limb: the axes do not agree.'
    findings.push({ code: 'pad_travel_clear', level: 'caution', detail })
  }
  if (axisCheck?.padTravel === 'slight') {
    findings.push({ code: 'pad_travel_slight', level: 'note', detail: 'The pad moves slightly along the limb.' })
  }
  if (anatomicalZero?.afterLastAdjustment === 'no') {
    const detail = 'Something was adjusted after the anatomical zero was set: angles are not sure.'
    findings.push({ code: 'zero_before_last_adjustment', level: 'caution', detail })
  }
  if (stabilisation?.thighStrap === 'overtight') {
    const detail = 'An overtight thigh strap affects results.'
    findings.push({ code: 'thigh_strap_overtight', level: 'caution', detail })
  }
  return findings
}

/** Two fingers, as a length; common practice, no source. */
const TWO_FINGERS_M = 0.03
const SUFFICIENT_UP_TO_DEG = 100

/** A gap of about two fingers is normally enough for up to 100 deg of flexion: a rule of thumb, never a refusal. */
function seatDepthSufficient(setup: SetupDocument): Judged {
  const { seatDepthCheck } = setup
  if (seatDepthCheck === undefined) return { verdict: 'unknown', reason: 'seat_depth_not_checked' }
  if ((flexionToCheckDeg(setup) ?? 0) > SUFFICIENT_UP_TO_DEG) {
    return { verdict: 'unknown', reason: 'flexion_beyond_the_rule_of_thumb' }
  }
  return seatDepthCheck.calfToSeatGap.canonicalValue < TWO_FINGERS_M
    ? { verdict: 'no', reason: 'gap_below_two_fingers' }
    : { verdict: 'yes', reason: null }
}

/** As far as was planned, or as the machine was let go; null: nobody checked. */
export function flexionToCheckDeg({
  seatDepthCheck,
  stops,
}: Pick<SetupDocument, 'seatDepthCheck' | 'stops'>): number | null {
  if (seatDepthCheck === undefined) return null
  const planned = seatDepthCheck.plannedFlexion.canonicalValue
  return Math.max(planned, stops?.flexion?.canonicalValue ?? planned)
}
