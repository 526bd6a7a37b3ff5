import { z } from 'zod'
import { day, id, instant, plainQuantity, plainSystemAndValue } from './common.ts'

const reference = z.looseObject({}).describe('As sent: id, identifier or externalId')

export const episode = z
  .strictObject({
    id,
    version: z.number().int(),
    subjectId: id,
    externalId: plainSystemAndValue.optional(),
    subject: reference,
    joint: z.string(),
    involvedSide: z.enum(['left', 'right', 'bilateral', 'none']),
    otherLimbHistory: z.string().optional(),
    condition: z.string().optional(),
    injuredOn: day.optional(),
    surgeryOn: day.optional(),
    procedure: z.string().optional(),
    graft: z.strictObject({ type: z.string(), side: z.string() }).optional(),
    precautions: z.array(z.looseObject({ kind: z.string() })).optional(),
    primaryMeasures: z
      .array(
        z.strictObject({
          movement: z.string(),
          contractionMode: z.string(),
          contractionScheme: z.string().optional(),
          velocity: plainQuantity,
          measure: z.string(),
        }),
      )
      .optional(),
    baselineSession: reference.optional(),
    criteriaSet: z.strictObject({ key: z.string(), version: z.number().int() }).optional(),
    status: z.enum(['active', 'completed', 'cancelled']),
    recordedAt: instant,
  })
  .meta({ id: 'Episode' })

export const episodeVersion = episode
  .extend({ recordedBy: id, supersededAt: instant.nullable() })
  .meta({ id: 'EpisodeVersion' })
