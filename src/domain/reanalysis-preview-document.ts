/** A limb's whole history of one measure under one filter, load range and gravity: what would have been seen. Stores nothing. */
import { z } from 'zod'
import { analysisChoicesDocument } from './analysis-choices-document.ts'
import * as lists from './code-lists.ts'
import { checkMeasure, measureFields } from './series-document.ts'

export const reanalysisPreviewQuestion = z
  .strictObject({
    ...measureFields,
    side: z.enum(lists.SIDES),
    choices: analysisChoicesDocument.default({}),
    /** as_weighed: corrected where the limb was weighed; left_in: the limb's weight left in every test. */
    gravity: z.enum(['as_weighed', 'left_in']).default('as_weighed'),
    confidence: z.number().min(0.5).max(0.999).optional(),
  })
  .superRefine(checkMeasure)
  .meta({ id: 'ReanalysisPreviewQuestion' })

export type ReanalysisPreviewQuestion = z.output<typeof reanalysisPreviewQuestion>
