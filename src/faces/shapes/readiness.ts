import { z } from 'zod'
import { day, id, instant, plainQuantity } from './common.ts'
import { comparabilityVerdict, interval } from './session.ts'

const orReason = z.strictObject({ value: z.number().nullable(), unit: z.string(), reason: z.string().optional() })

export const criterionAnswer = z
  .strictObject({
    key: z.string(),
    verdict: z.enum(['met', 'not_met', 'not_assessable']),
    reason: z.string().nullable(),
    measure: z.string(),
    comparator: z.enum(['<', '<=', '>', '>=', 'is']),
    threshold: z.union([plainQuantity, z.string(), z.null()]),
    observed: z.union([
      z.strictObject({ value: z.number(), unit: z.string(), interval: interval.optional() }),
      z.string(),
      z.null(),
    ]),
    distance: plainQuantity.nullable(),
    intervalSpansThreshold: z.boolean().nullable(),
    age: plainQuantity.nullable(),
    comparability: comparabilityVerdict.nullable(),
    evidence: z.array(
      z.union([
        z.strictObject({ resultId: id, measure: z.string(), statistic: z.string() }),
        z.strictObject({ functionalResultId: id }),
        z.strictObject({ observationId: id }),
      ]),
    ),
    beside: z.strictObject({ estimatedPreInjuryCapacity: orReason }).nullable(),
    notes: z.array(z.string()),
  })
  .meta({ id: 'CriterionAnswer' })

export const readiness = z
  .strictObject({
    episodeId: id,
    subjectId: id,
    on: day,
    asKnownAt: instant,
    involvedSide: z.string().nullable(),
    sinceSurgery: plainQuantity.nullable(),
    criteriaSet: z.strictObject({
      key: z.string(),
      version: z.number().int(),
      title: z.string(),
      citation: z.string(),
      population: z.string(),
      limits: z.string(),
      fromMemory: z.string(),
      rule: z.strictObject({ kind: z.enum(['all', 'at_least']), count: z.number().int().optional() }),
      populationMatches: z.enum(['yes', 'no', 'unknown']),
      populationNote: z.string().nullable(),
    }),
    overall: z.enum(['all_criteria_met', 'required_criteria_met', 'criteria_not_met', 'not_assessable']),
    counts: z.strictObject({
      met: z.number().int(),
      notMet: z.number().int(),
      notAssessable: z.number().int(),
    }),
    criteria: z.array(criterionAnswer).describe('Not assessable first, then not met, then met within error, then met'),
    toAssess: z.array(z.strictObject({ criterion: z.string(), needs: z.string() })),
    expiresOn: day.nullable(),
    notes: z.array(z.string()),
    computeVersion: z.string(),
    referenceDataVersion: z.string(),
  })
  .meta({ id: 'Readiness' })
