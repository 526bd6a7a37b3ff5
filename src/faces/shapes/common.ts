/** Shapes of answers and headers. Answers carry what was written, so quantities here are plain value and unit. */
import { z } from 'zod'

export const plainQuantity = z
  .strictObject({ value: z.number(), unit: z.string().describe('UCUM') })
  .meta({ id: 'Quantity', description: 'A measured number with its UCUM unit' })

export const plainSystemAndValue = z.strictObject({ system: z.string(), value: z.string() })
export const instant = z.string().describe('ISO 8601 with offset')
export const day = z.string().describe('ISO 8601 date')
export const id = z.string().describe('UUID')

/** What names a series in an answer. */
export const seriesIdentity = {
  joint: z.string(),
  movement: z.string(),
  contractionMode: z.string(),
  contractionScheme: z.string(),
  velocity: plainQuantity,
}

export const idParams = <const K extends string>(name: K) =>
  z.strictObject({ [name]: z.uuid() } as Record<K, z.ZodUUID>)

export const pagingQuery = z.strictObject({
  limit: z.coerce.number().int().min(1).max(200).optional().describe('1 to 200, 50 if absent'),
  cursor: z.string().min(1).max(200).optional().describe('nextCursor of the page before'),
})

export const versionQuery = z.strictObject({
  version: z.coerce
    .number()
    .int()
    .min(1)
    .max(1_000_000)
    .optional()
    .describe('Of the session; the one in force if absent'),
})

export const pageOf = <T extends z.ZodType>(item: T) =>
  z.strictObject({ items: z.array(item), nextCursor: z.string().nullable() })

export const listOf = <T extends z.ZodType>(item: T) => z.strictObject({ items: z.array(item) })

export const creationHeaders = z.object({
  'idempotency-key': z.string().min(1).max(200).describe('New for each new document; the same again for a retry'),
})

export const editHeaders = z.object({ 'if-match': z.string().describe('The ETag of the version you edit, e.g. "3"') })
