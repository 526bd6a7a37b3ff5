import { z } from 'zod'
import { fail } from './faults.ts'
import { quantity } from './quantities.ts'
import { shortText } from './shapes.ts'

/** No limit is published for all machines: the clinic's own protocol says it, or nothing is judged. */
const largestDrift = quantity('proportion', { min: 0.01, max: 100 })
  .optional()
  .describe('Of the expected torque, either way, as the protocol of the clinic allows; absent: no drift is flagged')

/** A known weight at a known arm: what the machine should read against what it reads. */
export const calibrationDocument = z
  .strictObject({
    checkedAt: z.iso.datetime({ offset: true }),
    mass: quantity('mass', { min: 0.1, max: 500 }),
    armLength: quantity('length', { min: 0.02, max: 2 }),
    readTorque: quantity('torque', { min: -5000, max: 5000 }),
    largestDrift,
    nextDueOn: z.iso.date().optional(),
    note: shortText(2000).optional(),
  })
  .superRefine(({ checkedAt, nextDueOn }, context) => {
    if (nextDueOn !== undefined && nextDueOn < checkedAt.slice(0, 10))
      fail(context, ['nextDueOn'], 'out_of_order', 'The next check is due before this one was made.')
  })
  .meta({ id: 'CalibrationDocument' })

export type CalibrationDocument = z.output<typeof calibrationDocument>

/** Of a check that was recorded, under whatever rules held then. */
export const driftLimitOnRecord = z.object({ largestDrift })
