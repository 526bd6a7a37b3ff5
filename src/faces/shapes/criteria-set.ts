import { z } from 'zod'
import { plainQuantity } from './common.ts'

const threshold = z.union([
  plainQuantity,
  z.strictObject({ bySex: z.strictObject({ female: plainQuantity, male: plainQuantity }) }),
  z.string().describe('What a clinician observed'),
])

const criterion = z
  .looseObject({
    key: z.string(),
    kind: z.string(),
    measure: z.string(),
    comparator: z.enum(['<', '<=', '>', '>=', 'is']),
    threshold,
    maximumAgeDays: z.number().nullable(),
  })
  .meta({
    id: 'Criterion',
    description: 'What else it says depends on its kind: series, test, questionnaire, observation',
  })

export const criteriaSet = z
  .strictObject({
    key: z.string(),
    version: z.number().int(),
    origin: z.enum(['published', 'clinic']),
    title: z.string(),
    citation: z.string(),
    population: z.strictObject({
      description: z.string(),
      sex: z.enum(['female', 'male']).nullable(),
      sportLevels: z.array(z.string()).nullable(),
      ageYears: z.strictObject({ from: z.number(), to: z.number() }).nullable(),
    }),
    rule: z.union([
      z.strictObject({ kind: z.literal('all') }),
      z.strictObject({ kind: z.literal('at_least'), count: z.number().int() }),
    ]),
    criteria: z.array(criterion),
    limits: z.string().describe('What the publication can and cannot tell'),
    fromMemory: z.string().describe('What in this encoding does not come from the text that was read'),
  })
  .meta({ id: 'CriteriaSet' })
