import { z } from 'zod'
import { SIDES } from './code-lists.ts'
import { quantity } from './quantities.ts'
import { shortText, systemAndValue } from './shapes.ts'

/** A subject as an integration or a clinician writes it. Nothing is mandatory but the sex, since thresholds differ by it. */
export const subjectDocument = z
  .strictObject({
    identifiers: z.array(systemAndValue).max(20).default([]),
    name: shortText(200).optional(),
    birthDate: z.iso.date().optional(),
    sex: z.enum(['female', 'male', 'unknown']),
    height: quantity('length', { min: 0.3, max: 2.8 }).optional(),
    dominantSide: z.enum(SIDES).optional(),
    sport: shortText(200).optional(),
    level: shortText(200).optional(),
  })
  .meta({ id: 'SubjectDocument' })

export type SubjectDocument = z.output<typeof subjectDocument>
