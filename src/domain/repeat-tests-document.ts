/** Which repeat tests of the clinic make a measurement error: one series, one measure, limbs of one kind. */
import { z } from 'zod'
import { LIMB_CONDITIONS } from './measurement-error-document.ts'
import { checkMeasure, measureFields } from './series-document.ts'
import { personReference, recordReference } from './session-document.ts'
import { shortText } from './shapes.ts'

/** A repeat test comes on the same day or within this many days, or the limb itself may have changed. Common practice, no source. */
export const WITHIN_DAYS = { usual: 14, most: 60 } as const

export const repeatTestsDocument = z
  .strictObject({
    ...measureFields,
    scale: z.enum(['absolute', 'percent']),
    limbCondition: z.enum(LIMB_CONDITIONS),
    withinDays: z.int().min(0).max(WITHIN_DAYS.most).default(WITHIN_DAYS.usual),
    /** Of whose tests alone, on which machine alone; absent: of all. Both tests of a pair must be theirs. */
    operator: personReference.optional(),
    dynamometer: recordReference.optional(),
    /** Absent: made of the number of pairs and their dates. */
    source: shortText(500).optional(),
  })
  .superRefine(checkMeasure)
  .meta({ id: 'RepeatTestsDocument' })

export type RepeatTestsDocument = z.output<typeof repeatTestsDocument>
