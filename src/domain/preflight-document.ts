/** A setup as it stands before the test, asked whether a test in it will compare with the pinned one. Nothing is stored. */
import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { directionDocument, personReference, recordReference, setupDocument } from './session-document.ts'

export const preflightQuestion = z
  .strictObject({
    subject: personReference,
    dynamometer: recordReference,
    setup: setupDocument,
    directions: z.array(directionDocument).min(1).max(2),
    /** The date precautions are judged at; absent: today. */
    plannedOn: z.iso.date().optional(),
  })
  .superRefine(({ setup, directions }, context) => {
    const movements = lists.JOINT_MOVEMENTS[setup.joint].flat()
    directions.forEach(({ movement }, index) => {
      if (!movements.includes(movement))
        fail(context, ['directions', index, 'movement'], 'movement_not_of_joint', 'This joint has no such movement.')
    })
  })
  .meta({ id: 'PreflightQuestion' })

export type PreflightQuestion = z.output<typeof preflightQuestion>
