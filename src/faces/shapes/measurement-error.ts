import { z } from 'zod'
import { LIMB_CONDITIONS } from '../../domain/measurement-error-document.ts'
import { id, instant, plainQuantity } from './common.ts'
import { interval } from './session.ts'

export const estimate = {
  pairs: z.number().int(),
  minimumPairs: z.number().int().describe('Below this it is kept and not used to judge changes'),
  standardErrorOfMeasurement: plainQuantity.extend({ interval }).describe('A shift between the tests left in'),
  typicalError: plainQuantity.describe('A shift between the tests taken out'),
  minimalDetectableChange: z
    .strictObject({ rise: plainQuantity, fall: plainQuantity, confidence: z.number() })
    .describe('Of the difference of two tests; in percent a fall is smaller than a rise'),
  learningShift: plainQuantity
    .extend({ pValue: z.number().nullable(), detected: z.enum(['yes', 'no']) })
    .describe('Second test minus first, on average'),
  intraclassCorrelation: z.union([
    z.strictObject({
      forms: z.array(z.strictObject({ form: z.string(), value: z.number(), interval: interval.nullable() })),
    }),
    z.strictObject({ reason: z.string() }),
  ]),
  notes: z.array(z.strictObject({ code: z.string(), message: z.string() })),
}

const testIdentity = {
  joint: z.string(),
  movement: z.string(),
  contractionMode: z.string(),
  contractionScheme: z.string(),
  velocity: plainQuantity,
}

export const measurementError = z
  .strictObject({
    id,
    ...testIdentity,
    measure: z.string(),
    scale: z.enum(['absolute', 'percent']),
    limbCondition: z.enum(LIMB_CONDITIONS),
    source: z.string(),
    ...estimate,
    computeVersion: z.string(),
    recordedBy: id,
    recordedAt: instant,
  })
  .meta({ id: 'MeasurementError' })

const group = {
  pairs: z.number().int(),
  estimate: z.strictObject(estimate).nullable(),
  reason: z.string().optional().describe('Why nothing can be estimated from these pairs'),
}

const oneTest = z.strictObject({ resultId: id, sessionId: id, value: z.number() })

export const repeatTests = z
  .strictObject({
    series: z.strictObject(testIdentity),
    measure: z.string(),
    statistic: z.string(),
    scale: z.enum(['absolute', 'percent']),
    limbCondition: z.enum(LIMB_CONDITIONS),
    withinDays: z.number().int(),
    all: z.strictObject(group),
    byOperator: z
      .array(z.strictObject({ operatorId: id.nullable(), ...group }))
      .describe('null: two operators, or not recorded'),
    byDynamometer: z.array(z.strictObject({ dynamometerId: id.nullable(), ...group })),
    pairs: z.array(z.strictObject({ first: oneTest, second: oneTest, unit: z.string() })),
    leftOut: z
      .array(z.strictObject({ resultId: id, sessionId: id, reason: z.string() }))
      .describe('Repeat tests that make no pair, and why'),
  })
  .meta({ id: 'RepeatTests' })
