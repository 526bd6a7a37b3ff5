/** The choices of an analysis that somebody may want made otherwise: filter, load range, window of work, angles. */
import { z } from 'zod'
import { fail } from './faults.ts'
import { quantity } from './quantities.ts'

const filter = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('none') }),
  z.strictObject({
    kind: z.literal('butterworth_zero_phase'),
    /** One cutoff for every speed; absent: the usual ones, which rise with it. */
    cutoff: quantity('frequency', { min: 2, max: 100 }).optional(),
  }),
])

export const analysisChoicesDocument = z
  .strictObject({
    filter: filter.optional(),
    loadRange: z
      .strictObject({
        /** Two-sided: within this per cent of the set velocity. */
        band: z.strictObject({ value: z.number().min(1).max(50), unit: z.literal('%') }).optional(),
        minimumRange: quantity('angle', { min: 1, max: 180 }).optional(),
        minimumDuration: quantity('duration', { min: 0.01, max: 5 }).optional(),
      })
      .optional(),
    workWindow: z.enum(['load_range', 'full_range']).optional(),
    torqueAtAngles: z
      .array(quantity('angle', { min: -180, max: 180 }))
      .max(20)
      .optional(),
  })
  .superRefine(({ torqueAtAngles = [] }, context) => {
    const seen = new Set<number>()
    torqueAtAngles.forEach(({ canonicalValue }, index) => {
      if (seen.has(canonicalValue)) fail(context, ['torqueAtAngles', index], 'not_unique', 'This occurs twice in the list.') // prettier-ignore
      seen.add(canonicalValue)
    })
  })
  .meta({ id: 'AnalysisChoices' })

export type AnalysisChoices = z.output<typeof analysisChoicesDocument>
