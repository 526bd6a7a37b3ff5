import { z } from 'zod'
import { LIMB_CONDITIONS } from '../../domain/measurement-error-document.ts'
import { id, instant, plainQuantity, seriesIdentity } from './common.ts'
import { interval } from './session.ts'

/** Estimates kept before their interval was worked out have none. */
const detectable = plainQuantity.extend({ interval: interval.optional() })

const estimate = {
  pairs: z.number().int(),
  minimumPairs: z.number().int().describe('Below this it is kept and not used to judge changes'),
  standardErrorOfMeasurement: plainQuantity
    .extend({ interval })
    .describe(
      'SEM, in the unit of the measure or %; a shift between the tests left in (Weir 2005, J Strength Cond Res 19:231-40)',
    ),
  typicalError: plainQuantity.describe(
    'SD of the differences over root 2, in the unit of the measure or %; a shift between the tests taken out (Hopkins 2000, Sports Med 30:1-15)',
  ),
  minimalDetectableChange: z
    .strictObject({ rise: detectable, fall: detectable, confidence: z.number() })
    .describe(
      'MDC of the difference of two tests; in percent a fall is smaller than a rise (Weir 2005, J Strength Cond Res 19:231-40)',
    ),
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

export const measurementError = z
  .strictObject({
    id,
    ...seriesIdentity,
    measure: z.string(),
    scale: z.enum(['absolute', 'percent']),
    limbCondition: z.enum(LIMB_CONDITIONS),
    scope: z
      .enum(['clinic', 'operator', 'dynamometer', 'operator_and_dynamometer'])
      .optional()
      .describe('Whose tests: a change is judged by the narrowest error that speaks of both its tests'),
    operatorId: id.optional(),
    dynamometerId: id.optional(),
    source: z.string(),
    ...estimate,
    computeVersion: z.string(),
    recordedBy: id,
    recordedAt: instant,
  })
  .meta({ id: 'MeasurementError' })

const group = {
  pairs: z.number().int().describe('Number of pairs, one for each person'),
  estimate: z.strictObject(estimate).meta({ id: 'ErrorEstimate' }).nullable().describe('null: the reason says why'),
  reason: z.string().optional().describe('Why nothing can be estimated from these pairs'),
}

const oneTest = z
  .strictObject({ resultId: id, sessionId: id, value: z.number().describe('In the unit of the pair') })
  .meta({ id: 'TestOfPair' })

export const repeatTests = z
  .strictObject({
    series: z.strictObject(seriesIdentity),
    measure: z.string(),
    statistic: z.string(),
    scale: z.enum(['absolute', 'percent']),
    limbCondition: z.enum(LIMB_CONDITIONS),
    withinDays: z.number().int(),
    all: z.strictObject(group),
    byOperator: z
      .array(z.strictObject({ operatorId: id.nullable(), ...group }))
      .describe('null: two operators, or not recorded'),
    byDynamometer: z
      .array(z.strictObject({ dynamometerId: id.nullable(), ...group }))
      .describe('null: two machines, or not recorded'),
    byOperatorAndDynamometer: z
      .array(z.strictObject({ operatorId: id.nullable(), dynamometerId: id.nullable(), ...group }))
      .describe('The narrowest: of one operator on one machine'),
    pairs: z
      .array(z.strictObject({ first: oneTest, second: oneTest, unit: z.string() }))
      .describe('One pair for each person: the newest'),
    leftOut: z
      .array(z.strictObject({ resultId: id, sessionId: id, reason: z.string() }))
      .describe('Repeat tests that make no pair, and why'),
  })
  .meta({ id: 'RepeatTests' })
