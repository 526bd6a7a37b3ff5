/** What the trend and symmetry routes answer. */
import { z } from 'zod'
import { codesOf, EFFUSION_GRADES, SIDES } from '../../domain/code-lists.ts'
import { id, instant, plainQuantity, seriesIdentity } from './common.ts'
import { comparabilityReason, comparabilityVerdict, interval, symmetryEntry } from './session.ts'

const effusionGrade = z.enum(codesOf(EFFUSION_GRADES))

export const seriesNamed = z.strictObject({
  subjectId: id,
  ...seriesIdentity,
  side: z.enum(SIDES).optional(),
  measure: z.string(),
  statistic: z.string(),
  angle: plainQuantity.optional(),
})

/** Whose tests the clinic's own error rests on; absent where the error is a published one. */
const errorScope = {
  scope: z.enum(['clinic', 'operator', 'dynamometer', 'operator_and_dynamometer']).optional(),
  operatorId: id.optional(),
  dynamometerId: id.optional(),
}

const judgedBy = z
  .union([
    z.strictObject({ kind: z.literal('none'), reason: z.string() }),
    z.strictObject({ kind: z.enum(['clinic_test_retest', 'published']), ...errorScope, source: z.string() }),
  ])
  .describe('The measurement error that the verdict rests on')

const errorModel = z.union([
  z.strictObject({ kind: z.literal('none'), reason: z.string() }),
  z.strictObject({
    kind: z.enum(['clinic_test_retest', 'published']),
    pairs: z.number().int().optional(),
    subjects: z.number().int().optional(),
    ...errorScope,
    standardErrorOfMeasurement: plainQuantity,
    minimalDetectableChange: plainQuantity,
    confidence: z.number(),
    source: z.string(),
    cautions: z.array(z.string()),
  }),
])

const change = z
  .strictObject({
    verdict: z.enum(['increased', 'decreased', 'within_measurement_error', 'undetermined']),
    difference: plainQuantity.nullable(),
    withinErrorBetween: z.strictObject({ low: z.number(), high: z.number(), unit: z.string() }).optional(),
    standardised: z
      .number()
      .optional()
      .describe('Difference over its standard error, root 2 x SEM; of logarithms where the error is in percent'),
    pValue: z
      .number()
      .optional()
      .describe('Two-sided P of so large a difference where nothing changed; by t where the error is the clinic’s own'),
    reason: z.string().optional(),
    meaning: z.enum(['better', 'worse']).optional(),
    cautions: z.array(z.string()),
    judgedBy,
    against: id,
  })
  .meta({ id: 'Change' })

export const trend = z
  .strictObject({
    series: seriesNamed,
    confidence: z.number(),
    primary: z.boolean().describe('Named in advance by the episode; everything else is exploratory'),
    betterWhen: z.enum(['higher', 'lower']).nullable(),
    errorModel,
    points: z.array(
      z.strictObject({
        resultId: id,
        sessionId: id,
        at: instant,
        quantity: plainQuantity,
        perBodyMass: z.strictObject({ left: plainQuantity.nullable(), right: plainQuantity.nullable() }).nullable(),
        run: z.string(),
        baseline: z.boolean(),
        changeFromPrevious: change.nullable(),
        changeFromRunStart: change.nullable(),
        changeFromBaseline: change
          .nullable()
          .describe('Against the visit that the episode names as its baseline; null: it names none, it has no value of this test that counts, or it is not earlier'), // prettier-ignore
        painDuring: plainQuantity.nullable(),
        effusion: z
          .strictObject({ before: effusionGrade, after: effusionGrade.nullable() })
          .nullable()
          .describe('Of this joint on the day of the test, as graded; null: not recorded'),
        flags: z.array(z.string()),
      }),
    ),
    runs: z.array(
      z.strictObject({
        run: z.string(),
        pointCount: z.number().int(),
        comparability: comparabilityVerdict,
        slope: z.strictObject({
          value: z.number().nullable(),
          unit: z.string(),
          reason: z.string().optional(),
          interval: interval.optional(),
          standardError: z.number().optional().describe('The larger of two standard errors, in the unit of the slope'),
          verdict: z.enum(['increased', 'decreased', 'plateau', 'undetermined']),
          standardErrorFrom: z.enum(['measurement_error', 'residuals']).optional(),
          cautions: z.array(z.string()),
        }),
        threshold: z
          .strictObject({
            value: z.number(),
            unit: z.string(),
            distance: z.strictObject({ value: z.number().nullable(), unit: z.string() }),
            note: z.string(),
          })
          .optional(),
      }),
    ),
    splits: z.array(
      z.strictObject({
        resultId: id,
        against: id,
        verdict: comparabilityVerdict,
        reasons: z.array(comparabilityReason),
      }),
    ),
    excluded: z.array(
      z.strictObject({ resultId: id, sessionId: id, at: instant, reason: z.string(), held: z.boolean() }),
    ),
    multiplicity: z.string(),
    computeVersion: z.string(),
    referenceDataVersion: z.string(),
  })
  .meta({ id: 'Trend' })

export const symmetry = z
  .strictObject({
    series: seriesNamed,
    involvedSide: z.string().nullable(),
    confidence: z.number(),
    points: z.array(symmetryEntry.extend({ sessionId: id, at: instant })),
    computeVersion: z.string(),
    referenceDataVersion: z.string(),
  })
  .meta({ id: 'Symmetry' })
