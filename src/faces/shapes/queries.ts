/** Query parameters that several reads share. */
import { z } from 'zod'
import * as lists from '../../domain/code-lists.ts'
import { LIMB_CONDITIONS } from '../../domain/measurement-error-document.ts'
import { WITHIN_DAYS } from '../../domain/repeat-tests-document.ts'
import { wordKey } from '../../domain/shapes.ts'
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

/** Written in an address or as a number. */
const whole = z.coerce.number().int().min(1)

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

export const repeatTestsQuery = seriesQuery.omit({ confidence: true, asKnownAt: true }).extend({
  scale: z.enum(['absolute', 'percent']).describe('Whether the error is of one size at every level, or grows with it'),
  limbCondition: z.enum(LIMB_CONDITIONS).describe('Pairs of limbs of this kind alone'),
  withinDays: z.coerce
    .number()
    .int()
    .min(0)
    .max(WITHIN_DAYS.most)
    .optional()
    .describe(`Longest time between the tests of a pair, d; ${WITHIN_DAYS.usual} if absent`),
})

export const symmetryQuery = seriesQuery.extend({
  from: z.iso.date().optional().describe('First day of the tests; all if absent'),
  to: z.iso.date().optional().describe('Last day of the tests; all if absent'),
  comparability: z
    .enum(['comparable', 'comparable_with_caution'])
    .optional()
    .describe('How well a test must compare: in a trend with the latest one, in symmetry with the other limb; all if absent'), // prettier-ignore
})

export const trendQuery = symmetryQuery.extend({
  side: z.enum(lists.SIDES),
  threshold: anyQuantityText('176.3 N.m')
    .optional()
    .describe('Value whose distance is told, with its unit, e.g. "176.3 N.m"'),
})

export const readinessQuery = z.strictObject({
  criteriaSet: wordKey.optional().describe('Key of a set; the one of the episode if absent'),
  criteriaSetVersion: whole
    .max(1_000_000)
    .optional()
    .describe('Version of that set; the newest if absent; not without criteriaSet'),
  on: z.iso.date().optional().describe('Date evaluated; today if absent'),
  asKnownAt: z.iso.datetime({ offset: true }).optional().describe('What the service knew at that time; now if absent'),
})

export const nextSetupQuery = z.strictObject({
  joint: z.enum(lists.JOINTS),
  side: z.enum(lists.SIDES),
  dynamometerId: z.uuid(),
  on: z.iso.date().optional().describe('The day of the test; today in the clinic’s time zone if absent'),
})

export const identifierQuery = z.strictObject({
  identifierSystem: z
    .string()
    .min(1)
    .max(200)
    .optional()
    .describe('Numbering system of an identifier of the person; with identifierValue'),
  identifierValue: z.string().min(1).max(200).optional().describe('The number in that system'),
})

export const externalIdQuery = z.strictObject({
  externalIdSystem: z
    .string()
    .min(1)
    .max(200)
    .optional()
    .describe('Numbering system of the sender; with externalIdValue'),
  externalIdValue: z.string().min(1).max(200).optional().describe('The id in that system'),
})

export const workListQuery = z.strictObject({
  level: z.enum(['note', 'caution', 'hold']).optional().describe('Flags of this level alone; all if absent'),
})

export const auditQuery = z.strictObject({
  subjectId: z.uuid().optional().describe('Events that disclosed or changed data of this subject'),
  actorId: z.uuid().optional().describe('The principal who acted'),
  action: z.string().min(1).max(100).optional().describe('As the policy calls it, e.g. trend.read'),
  outcome: z.enum(['done', 'refused', 'failed']).optional().describe('How the request ended; all if absent'),
  requestId: z.string().min(1).max(128).optional().describe('Id of one request, as its answer carried it'),
  from: z.iso.datetime({ offset: true }).optional().describe('Events at this time and later'),
  to: z.iso.datetime({ offset: true }).optional().describe('Events before this time'),
})

export const teamChangesQuery = z.strictObject({
  since: z.string().min(1).max(200).optional().describe('The nextSince of the call before; from the start if absent'),
  limit: whole.max(200).optional().describe('1 to 200, 50 if absent'),
})
