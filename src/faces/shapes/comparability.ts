import { z } from 'zod'
import { id, instant } from './common.ts'
import { comparabilityReason, comparabilityVerdict, result } from './session.ts'

const comparedResult = result
  .omit({ id: true, measures: true, repetitions: true, method: true })
  .extend({ resultId: id, sessionId: id, startedAt: instant })
  .meta({ id: 'ComparedResult' })

export const explainedComparability = z
  .strictObject({
    before: comparedResult,
    now: comparedResult,
    acrossLimbs: z.boolean(),
    measures: z.array(
      z.strictObject({
        measure: z.string(),
        verdict: comparabilityVerdict,
        reasons: z.array(comparabilityReason).describe('Gravest first'),
      }),
    ),
  })
  .meta({ id: 'ExplainedComparability' })
