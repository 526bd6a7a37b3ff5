/** Query parameters that several reads share. */
import { z } from 'zod'
import * as lists from '../../domain/code-lists.ts'
import { quantity, quantityOfAnyKind, type Quantity, type QuantityKind } from '../../domain/quantities.ts'

/** "60 deg/s": a value and its unit with a space between. */
const written = z
  .string()
  .regex(/^-?\d+(\.\d+)?(e-?\d+)? \S+$/)
  .transform((text) => {
    const [value = '', unit = ''] = text.split(' ')
    return { value: Number(value), unit }
  })

export const quantityText = (kind: QuantityKind, example: string): z.ZodType<Quantity> =>
  written.pipe(quantity(kind)).meta({ type: 'string', example, description: `Value and unit, e.g. "${example}"` })

export const anyQuantityText = (example: string): z.ZodType<Quantity> =>
  written.pipe(quantityOfAnyKind()).meta({ type: 'string', example, description: `Value and unit, e.g. "${example}"` })

/** What names a series, and the measure asked of it. */
export const seriesQuery = z.strictObject({
  joint: z.enum(lists.JOINTS),
  movement: z.enum(lists.MOVEMENTS),
  contractionMode: z.enum(lists.codesOf(lists.CONTRACTION_MODES)),
  contractionScheme: z.enum(lists.codesOf(lists.CONTRACTION_SCHEMES)),
  velocity: quantityText('angular_velocity', '60 deg/s'),
  measure: z.enum(lists.MEASURES),
  statistic: z.enum(lists.codesOf(lists.STATISTICS)),
  angle: quantityText('angle', '30 deg').optional().describe('Of torqueAtAngle, and of nothing else'),
  confidence: z.coerce.number().min(0.5).max(0.999).optional().describe('0.95 if absent'),
  asKnownAt: z.iso.datetime({ offset: true }).optional().describe('What the service knew at that time; now if absent'),
})
