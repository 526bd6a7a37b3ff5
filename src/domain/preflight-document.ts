/** A setup as it stands before the test, asked whether a test in it will compare with the pinned one. Nothing is stored. */
import { z } from 'zod'
import { fail } from './faults.ts'
import { directionDocument, personReference, recordReference, setupDocument } from './session-document.ts'
import { checkDirections } from './session-rules.ts'

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
    checkDirections({ directions }, setup.joint, [], (path, code, message) => fail(context, path, code, message))
  })
  .meta({ id: 'PreflightQuestion' })

export type PreflightQuestion = z.output<typeof preflightQuestion>
