import { z } from 'zod'
import { day, id, instant } from './common.ts'

export const observation = z
  .strictObject({
    id,
    episodeId: id,
    key: z.string(),
    value: z.string(),
    observedOn: day,
    note: z.string().optional(),
    state: z.enum(['final', 'superseded']).describe('superseded: a newer word on the same key and day took its place'),
    recordedBy: id,
    recordedAt: instant,
  })
  .meta({ id: 'Observation' })
