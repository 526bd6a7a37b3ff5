/** What an axis offset does, and what to move: of a calculation and of a setup. */
import { z } from 'zod'
import { plainQuantity } from './common.ts'

const seenWay = z.enum(['left', 'right', 'up', 'down'])
const way = z.enum(['forward', 'back', 'up', 'down'])

export const axisErrors = z
  .strictObject({
    largestTorqueError: plainQuantity,
    largestAngleError: plainQuantity,
    byAngle: z.array(
      z.strictObject({
        angle: plainQuantity,
        padDistance: plainQuantity,
        angleError: plainQuantity.describe('Knee minus machine'),
        torqueRatio: z.number().describe('What the machine shows over what the knee gives'),
      }),
    ),
  })
  .meta({ id: 'AxisErrors' })

export const axisMove = z
  .strictObject({
    seat: way,
    machine: way,
    by: plainQuantity,
    seatSeenFromTheMachine: seenWay,
    machineSeenFromTheMachine: seenWay,
    inWords: z.string(),
  })
  .meta({ id: 'AxisMove' })
