/** A limb's whole history of one measure under one filter, load range and gravity: what would have been seen. Stores nothing. */
import { z } from 'zod'
import { analysisChoicesDocument } from './analysis-choices-document.ts'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { quantity } from './quantities.ts'

export const reanalysisPreviewQuestion = z
  .strictObject({
    joint: z.enum(lists.JOINTS),
    side: z.enum(lists.SIDES),
    movement: z.enum(lists.MOVEMENTS),
    contractionMode: z.enum(lists.codesOf(lists.CONTRACTION_MODES)),
    contractionScheme: z.enum(lists.codesOf(lists.CONTRACTION_SCHEMES)),
    velocity: quantity('angular_velocity', { min: 0, max: 600 }),
    measure: z.enum(lists.MEASURES),
    statistic: z.enum(lists.codesOf(lists.STATISTICS)),
    /** Of torqueAtAngle, and of nothing else. */
    angle: quantity('angle', { min: -180, max: 180 }).optional(),
    choices: analysisChoicesDocument.default({}),
    /** as_weighed: corrected where the limb was weighed; left_in: the limb's weight left in every test. */
    gravity: z.enum(['as_weighed', 'left_in']).default('as_weighed'),
    confidence: z.number().min(0.5).max(0.999).optional(),
  })
  .superRefine(({ joint, movement, measure, angle }, context) => {
    if (!lists.JOINT_MOVEMENTS[joint].flat().includes(movement))
      fail(context, ['movement'], 'movement_not_of_joint', 'This joint has no such movement.')
    if ((measure === 'torqueAtAngle') !== (angle !== undefined))
      fail(context, ['angle'], 'not_applicable', 'An angle goes with torqueAtAngle, and with nothing else.')
  })
  .meta({ id: 'ReanalysisPreviewQuestion' })

export type ReanalysisPreviewQuestion = z.output<typeof reanalysisPreviewQuestion>
