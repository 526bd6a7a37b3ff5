import { STANDARD_GRAVITY } from './gravity-model.ts'
import type { Joint, ReasonCode, YesNoUnknown } from '../types.ts'

type Sex = 'female' | 'male'

/** Mass as a fraction of body mass, centre of mass and radius of gyration (about the proximal end) of segment length. */
export interface Segment {
  readonly mass: number
  readonly centre: number
  readonly gyrationProximal: number
}

/** Dempster's segments as tabulated by Winter 2009, Biomechanics and Motor Control of Human Movement, 4th ed. */
export const DEMPSTER_WINTER = {
  hand: { mass: 0.006, centre: 0.506, gyrationProximal: 0.587 },
  forearm: { mass: 0.016, centre: 0.43, gyrationProximal: 0.526 },
  upperArm: { mass: 0.028, centre: 0.436, gyrationProximal: 0.542 },
  forearmAndHand: { mass: 0.022, centre: 0.682, gyrationProximal: 0.827 },
  totalArm: { mass: 0.05, centre: 0.53, gyrationProximal: 0.645 },
  foot: { mass: 0.0145, centre: 0.5, gyrationProximal: 0.69 },
  shank: { mass: 0.0465, centre: 0.433, gyrationProximal: 0.528 },
  footAndShank: { mass: 0.061, centre: 0.606, gyrationProximal: 0.735 },
  thigh: { mass: 0.1, centre: 0.433, gyrationProximal: 0.54 },
  totalLeg: { mass: 0.161, centre: 0.447, gyrationProximal: 0.56 },
} as const satisfies Record<string, Segment>

/** de Leva 1996, J Biomech 29:1223-30, joint-centre version: [mass fraction, centre of mass] by sex. */
export const DE_LEVA = {
  male: {
    thigh: [0.1416, 0.4095],
    shank: [0.0433, 0.4395],
    foot: [0.0137, 0.4415],
    upperArm: [0.0271, 0.5772],
    forearm: [0.0162, 0.4574],
    hand: [0.0061, 0.79],
  },
  female: {
    thigh: [0.1478, 0.3612],
    shank: [0.0481, 0.4352],
    foot: [0.0129, 0.4014],
    upperArm: [0.0255, 0.5754],
    forearm: [0.0138, 0.4559],
    hand: [0.0056, 0.7474],
  },
} as const satisfies Record<Sex, Record<string, readonly [number, number]>>

/** Segment lengths as fractions of body height: Drillis & Contini 1966, as given by Winter 2009 (from memory). */
const LENGTH_OF_HEIGHT = { thigh: 0.245, shank: 0.246, foot: 0.152, upperArm: 0.186, forearm: 0.146, hand: 0.108 }

/**
 * Gravity moment of the limb below a joint, held level, from body mass and height: Dempster's table.
 *
 * What for: a check on a weighing, never a replacement for one. Formula: mass fraction * M * g * centre * length.
 * Units: kg, m -> N.m. null for the trunk and for joints whose moving part is not in the table.
 * Source: Winter 2009, table 4.1. Errors: RangeError for a mass or height that is not positive.
 * Limits: bodies differ from the table by tens of per cent.
 *
 * @example limbMomentDempsterNm('knee', 75, 1.75) // 11.7046
 */
export function limbMomentDempsterNm(joint: Joint, bodyMassKg: number, heightM: number): number | null {
  requirePositive(bodyMassKg, heightM)
  const length = LENGTH_OF_HEIGHT
  const limb: Partial<Record<Joint, [Segment, number]>> = {
    knee: [DEMPSTER_WINTER.footAndShank, length.shank],
    hip: [DEMPSTER_WINTER.totalLeg, length.thigh + length.shank],
    ankle: [DEMPSTER_WINTER.foot, length.foot],
    elbow: [DEMPSTER_WINTER.forearmAndHand, length.forearm],
    shoulder: [DEMPSTER_WINTER.totalArm, length.upperArm + length.forearm],
    wrist: [DEMPSTER_WINTER.hand, length.hand],
  }
  const found = limb[joint]
  if (found === undefined) return null
  const [segment, ofHeight] = found
  return segment.mass * bodyMassKg * STANDARD_GRAVITY * segment.centre * ofHeight * heightM
}

/**
 * The same for the knee from de Leva's table by sex, with the foot's mass taken to sit at the ankle. N.m.
 *
 * Source: de Leva 1996, J Biomech 29:1223-30. Limits: the foot's own length is ignored, which is why it lies below
 * Dempster's answer.
 * What for: a second table for the plausibility of a weighing. Units: kg, m -> N.m. Errors: RangeError for a mass or
 * height that is not positive.
 *
 * @example kneeMomentDeLevaNm('male', 75, 1.75) // 10.3635
 */
export function kneeMomentDeLevaNm(sex: Sex, bodyMassKg: number, heightM: number): number {
  requirePositive(bodyMassKg, heightM)
  const [shankMass, shankCentre] = DE_LEVA[sex].shank
  const [footMass] = DE_LEVA[sex].foot
  const lengthM = LENGTH_OF_HEIGHT.shank * heightM
  return bodyMassKg * STANDARD_GRAVITY * lengthM * (shankMass * shankCentre + footMass)
}

/**
 * Moment of inertia of foot and shank about the knee, kg.m2: mass * (radius of gyration * length)^2.
 *
 * What for: the size of what gravity correction leaves out: I * angular acceleration outside the load range.
 * Source: Winter 2009, table 4.1.
 * Units: kg, m -> kg.m2. Errors: RangeError for a mass or height that is not positive. Limits: a table's mean limb,
 * without arm and attachment.
 *
 * @example kneeInertiaKgM2(75, 1.75) // 0.45805
 */
export function kneeInertiaKgM2(bodyMassKg: number, heightM: number): number {
  requirePositive(bodyMassKg, heightM)
  const { mass, gyrationProximal } = DEMPSTER_WINTER.footAndShank
  return mass * bodyMassKg * (gyrationProximal * LENGTH_OF_HEIGHT.shank * heightM) ** 2
}

export interface WeighingPlausibility {
  readonly plausible: YesNoUnknown
  readonly reason: ReasonCode | null
  readonly lowNm: number | null
  readonly highNm: number | null
}

/**
 * Whether a weighed gravity moment can be a limb of this body, with the arm and attachment it also carried.
 *
 * The expected range is from 0.6 of the smallest to 1.5 of the largest table estimate (Dempster; de Leva for the knee
 * where sex is known, else both), plus `armAndAttachmentNm` where it was not tared; an engineering choice, no source.
 * `unknown` where the body or an untared arm is not described, or the joint is not in the tables.
 * Why the arm matters: 2 kg at 25 cm alone is 4.9 N.m.
 * What for: to ask again about a weighing that no limb has. Errors: RangeError for numbers that are not finite or
 * positive. Limits: wide; a plausible weighing may still be wrong.
 *
 * @example weighingPlausibility({ joint: 'knee', momentNm: 13.2, bodyMassKg: 68.4, heightM: 1.7, sex: 'female', armTared: 'yes', armAndAttachmentNm: null }).plausible // 'yes'
 */
export function weighingPlausibility(given: {
  readonly joint: Joint
  readonly momentNm: number
  readonly bodyMassKg: number | null
  readonly heightM: number | null
  readonly sex: Sex | null
  readonly armTared: YesNoUnknown
  readonly armAndAttachmentNm: number | null
}): WeighingPlausibility {
  if (!Number.isFinite(given.momentNm)) throw new RangeError('momentNm must be finite')
  const unknown = (reason: ReasonCode) => ({ plausible: 'unknown' as const, reason, lowNm: null, highNm: null })
  const { bodyMassKg, heightM } = given
  if (bodyMassKg === null || heightM === null) return unknown('body_mass_or_height_missing')
  const dempster = limbMomentDempsterNm(given.joint, bodyMassKg, heightM)
  if (dempster === null) return unknown('joint_not_in_segment_tables')
  const estimates = [dempster]
  if (given.joint === 'knee') {
    if (given.sex !== 'female') estimates.push(kneeMomentDeLevaNm('male', bodyMassKg, heightM))
    if (given.sex !== 'male') estimates.push(kneeMomentDeLevaNm('female', bodyMassKg, heightM))
  }
  let low = 0.6 * Math.min(...estimates)
  let high = 1.5 * Math.max(...estimates)
  if (given.armTared !== 'yes') {
    if (given.armAndAttachmentNm === null) {
      // Arm and attachment only ever add here: too light is still too light.
      if (given.momentNm < low) return { plausible: 'no', reason: 'lighter_than_the_limb', lowNm: low, highNm: null }
      return unknown('arm_and_attachment_not_described')
    }
    if (given.armTared === 'no') low += given.armAndAttachmentNm
    high += given.armAndAttachmentNm
  }
  if (given.momentNm < low) return { plausible: 'no', reason: 'lighter_than_the_limb', lowNm: low, highNm: high }
  if (given.momentNm > high) return { plausible: 'no', reason: 'heavier_than_the_limb', lowNm: low, highNm: high }
  return { plausible: 'yes', reason: null, lowNm: low, highNm: high }
}

function requirePositive(bodyMassKg: number, heightM: number): void {
  if (!(bodyMassKg > 0 && heightM > 0 && bodyMassKg < Infinity && heightM < Infinity)) {
    throw new RangeError('body mass and height must be positive')
  }
}
