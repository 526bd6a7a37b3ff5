import { z } from 'zod'
import { day, id, instant, plainQuantity, plainSystemAndValue } from './common.ts'

export const subject = z
  .strictObject({
    id,
    version: z.number().int(),
    identifiers: z.array(plainSystemAndValue).optional(),
    name: z.string().optional(),
    birthDate: day.optional(),
    sex: z.enum(['female', 'male', 'unknown']),
    height: plainQuantity.optional(),
    dominantSide: z.enum(['left', 'right']).optional(),
    sport: z.string().optional(),
    level: z.string().optional(),
    recordedAt: instant,
  })
  .meta({ id: 'Subject' })
