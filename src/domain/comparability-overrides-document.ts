/** A clinic's own limits in the table of comparability rules: stricter at will, looser with a reason on record. */
import { z } from 'zod'
import { COMPARED_MEASURES } from '../compute/comparability/facts.ts'
import { shortText } from './shapes.ts'

const limit = z.strictObject({
  /** The effect holds for differences greater than this, in the rule's unit; 0 for words means any difference. */
  moreThan: z.number().min(0).max(1_000_000),
  effect: z.enum(['note', 'caution', 'not_comparable']),
  measures: z.union([z.literal('all'), z.array(z.enum(COMPARED_MEASURES)).min(1).max(COMPARED_MEASURES.length)]),
})

export const comparabilityOverridesDocument = z
  .strictObject({
    overrides: z
      .array(
        z.strictObject({
          ruleId: z.string().regex(/^[a-z][a-z0-9_]{0,63}$/),
          limits: z.array(limit).max(20),
          reason: shortText(2000).optional(),
        }),
      )
      .max(100),
  })
  .meta({ id: 'ComparabilityOverridesDocument' })

export type ComparabilityOverridesDocument = z.output<typeof comparabilityOverridesDocument>
