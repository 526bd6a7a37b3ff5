import { z } from 'zod'
import { shortText } from './shapes.ts'

/** What a clinician makes of a flag: the hazard is real, or it is not. */
export const flagResolutionDocument = z
  .strictObject({ status: z.enum(['confirmed', 'dismissed']), reason: shortText(2000) })
  .meta({ id: 'FlagResolutionDocument' })

export type FlagResolutionDocument = z.output<typeof flagResolutionDocument>
