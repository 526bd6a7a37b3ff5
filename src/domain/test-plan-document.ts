/** What is to be tested next on one limb. It is held against the episode's precautions before anyone sits down. */
import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { quantity } from './quantities.ts'
import { directionDocument, recordReference, stopsDocument } from './session-document.ts'
import { checkDirections, checkStops, type Report } from './session-rules.ts'
import { shortText } from './shapes.ts'

const plannedSet = z.strictObject({
  directions: z.array(directionDocument).min(1).max(2),
  contractionScheme: z.enum(lists.codesOf(lists.CONTRACTION_SCHEMES)),
  intendedRepetitions: z.int().min(1).max(500).optional(),
  restBefore: quantity('duration', { min: 0, max: 86_400 }).optional(),
})

export const testPlanDocument = z
  .strictObject({
    joint: z.enum(lists.JOINTS),
    side: z.enum(lists.SIDES),
    dynamometer: recordReference,
    plannedOn: z.iso.date(),
    sets: z.array(plannedSet).min(1).max(50),
    stops: stopsDocument.optional(),
    /** Of a licensed clinician, where the plan goes beyond a precaution. */
    precautionReason: shortText(2000).optional(),
  })
  .superRefine(({ joint, sets, stops }, context) => {
    const report: Report = (path, code, message) => fail(context, path, code, message)
    sets.forEach((set, index) => checkDirections(set, joint, ['sets', index], report))
    checkStops(stops, joint, ['stops'], report)
  })
  .meta({ id: 'TestPlanDocument' })

export type TestPlanDocument = z.output<typeof testPlanDocument>
