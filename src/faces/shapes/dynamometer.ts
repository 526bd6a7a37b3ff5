import { z } from 'zod'
import { day, id, instant, plainQuantity, plainSystemAndValue } from './common.ts'

export const dynamometer = z
  .strictObject({
    id,
    descriptionVersion: z.number().int(),
    externalId: plainSystemAndValue.optional(),
    name: z.string(),
    deviceFamily: z.string().optional(),
    settings: z.array(z.looseObject({ key: z.string(), kind: z.string() })).optional(),
    attachments: z.array(z.looseObject({ key: z.string() })).optional(),
    optionalParts: z.array(z.looseObject({ key: z.string() })).optional(),
    recordedAt: instant,
  })
  .meta({ id: 'Dynamometer' })

export const calibrationCheck = z
  .strictObject({
    id,
    dynamometerId: id,
    checkedAt: instant,
    mass: plainQuantity,
    armLength: plainQuantity,
    readTorque: plainQuantity,
    expectedTorque: plainQuantity,
    drift: plainQuantity,
    relativeDrift: plainQuantity,
    largestDrift: plainQuantity.optional(),
    nextDueOn: day.nullable(),
    note: z.string().optional(),
    recordedAt: instant,
  })
  .meta({ id: 'CalibrationCheck' })
