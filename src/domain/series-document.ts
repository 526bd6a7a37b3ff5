/** How a document names a series and the measure asked of it, and the rules between those fields. */
import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { canonicalValueOf, quantity } from './quantities.ts'

export const seriesFields = {
  joint: z.enum(lists.JOINTS),
  movement: z.enum(lists.MOVEMENTS),
  contractionMode: z.enum(lists.codesOf(lists.CONTRACTION_MODES)),
  contractionScheme: z.enum(lists.codesOf(lists.CONTRACTION_SCHEMES)),
  velocity: quantity('angular_velocity', { min: 0, max: 600 }),
}

export const measureFields = {
  ...seriesFields,
  measure: z.enum(lists.MEASURES),
  statistic: z.enum(lists.codesOf(lists.STATISTICS)),
  /** Of torqueAtAngle, and of nothing else. */
  angle: quantity('angle', { min: -180, max: 180 }).optional(),
}

export function checkSeries(
  document: z.output<z.ZodObject<typeof seriesFields>>,
  context: z.core.$RefinementCtx,
): void {
  const { joint, movement, contractionMode, velocity } = document
  // null: its unit has been refused by the shape
  const velocityDegS = canonicalValueOf(velocity, 'angular_velocity')
  if (!lists.JOINT_MOVEMENTS[joint].flat().includes(movement)) {
    fail(context, ['movement'], 'movement_not_of_joint', 'This joint has no such movement.')
  }
  if (velocityDegS !== null && (contractionMode === 'isometric') !== (velocityDegS === 0)) {
    const message = 'An isometric test has velocity 0, an isokinetic one a velocity above 0.'
    fail(context, ['velocity', 'value'], 'out_of_range', message)
  }
}

export function checkMeasure(
  document: z.output<z.ZodObject<typeof measureFields>>,
  context: z.core.$RefinementCtx,
): void {
  checkSeries(document, context)
  if ((document.measure === 'torqueAtAngle') !== (document.angle !== undefined))
    fail(context, ['angle'], 'not_applicable', 'An angle goes with torqueAtAngle, and with nothing else.')
}
