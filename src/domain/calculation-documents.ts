/** What the stateless calculations are asked: nothing of it is stored, and no subject is named. */
import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { quantity, quantityOfAnyKind, unitText } from './quantities.ts'
import { limbWeighingDocument } from './session-document.ts'

const angle = quantity('angle', { min: -360, max: 360 })
const length = quantity('length', { min: 0.02, max: 1.5 })

/** Seated knee: the linkage has the thigh level and the shank hanging from it. */
export const axisOffsetQuestion = z
  .strictObject({
    side: z.enum(lists.SIDES),
    padMountedOn: z.enum(['arm', 'shin']),
    /** Arm: the lever arm. Shin: pad to knee axis. Absent: unknown, and fitted. */
    padDistance: length.optional(),
    /** How far from the knee axis (pad on the shin: from the machine's axis) the readings begin; absent: a mark nobody measured. */
    readingsBeginAt: quantity('length', { min: 0, max: 1.5 }).optional(),
    /** Standard deviation of one reading. */
    readingError: quantity('length', { min: 0.0001, max: 0.05 }).optional(),
    padPositions: z
      .array(z.strictObject({ angle, position: quantity('length', { min: 0, max: 1.5 }) }))
      .min(2)
      .max(50),
    tolerance: quantity('length', { min: 0.001, max: 0.1 }).optional(),
    confidence: z.number().min(0.5).max(0.999).optional(),
    /** Over which torque and angle errors are told; absent: the angles of the readings. */
    range: z.strictObject({ from: angle, to: angle }).optional(),
  })
  .meta({ id: 'AxisOffsetQuestion' })

export type AxisOffsetQuestion = z.output<typeof axisOffsetQuestion>

export const limbWeightQuestion = z
  .strictObject({
    joint: z.enum(lists.JOINTS),
    movement: z.enum(lists.MOVEMENTS).optional(),
    bodyPosition: z.enum(lists.codesOf(lists.BODY_POSITIONS)),
    limbWeighing: limbWeighingDocument,
    bodyMass: quantity('mass', { min: 15, max: 350 }).optional(),
    height: quantity('length', { min: 0.3, max: 2.8 }).optional(),
    sex: z.enum(['female', 'male', 'unknown']).default('unknown'),
    /** Of arm and attachment alone, where it is known. */
    armAndAttachment: quantity('torque', { min: 0, max: 100 }).optional(),
  })
  .superRefine(({ joint, movement, limbWeighing }, context) => {
    const movements = lists.JOINT_MOVEMENTS[joint].flat()
    if (movement !== undefined && !movements.includes(movement))
      fail(context, ['movement'], 'movement_not_of_joint', 'This joint has no such movement.')
    if (limbWeighing.method === 'not_performed')
      fail(context, ['limbWeighing', 'method'], 'not_applicable', 'There is nothing to work out.')
  })
  .meta({ id: 'LimbWeightQuestion' })

export type LimbWeightQuestion = z.output<typeof limbWeightQuestion>

export const unitConversionQuestion = z
  .strictObject({ quantity: quantityOfAnyKind(), to: unitText(null) })
  .meta({ id: 'UnitConversionQuestion' })

export type UnitConversionQuestion = z.output<typeof unitConversionQuestion>
