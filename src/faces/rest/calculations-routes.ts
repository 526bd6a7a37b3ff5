import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { calculateAxisOffset } from '../../application/calculations/calculate-axis-offset.ts'
import { calculateLimbWeight } from '../../application/calculations/calculate-limb-weight.ts'
import { convertUnit } from '../../application/calculations/convert-unit.ts'
import { axisOffsetQuestion, limbWeightQuestion, unitConversionQuestion } from '../../domain/calculation-documents.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { axisErrors, axisMove } from '../shapes/axis-offset.ts'
import { plainQuantity } from '../shapes/common.ts'
import { measuredValue } from '../shapes/session.ts'

const withHalfWidth = plainQuantity.extend({ halfWidth: plainQuantity })

const axisOffsetAnswer = z
  .strictObject({
    verdict: z.enum(['within_tolerance', 'beyond_tolerance', 'cannot_tell']),
    reason: z.string().optional().describe('Why the readings do not settle it'),
    tolerance: plainQuantity,
    offset: z
      .strictObject({ forward: withHalfWidth, up: withHalfWidth, confidence: z.number() })
      .nullable()
      .describe('Of the knee axis from the machine’s: forward along the thigh, and up'),
    errors: axisErrors.nullable().describe('null where the distance of the pad is not known'),
    move: z.array(axisMove).nullable().describe('Only where the offset is beyond tolerance; seat or machine, not both'),
    source: z.string(),
  })
  .meta({ id: 'AxisOffsetAnswer' })

const limbWeightAnswer = z
  .strictObject({
    gravityMoment: measuredValue.describe('Largest moment of limb, arm and attachment about the axis'),
    model: z.string().nullable(),
    plausible: z.strictObject({
      verdict: z.enum(['yes', 'no', 'unknown']),
      reason: z.string().nullable(),
      range: z.strictObject({ low: plainQuantity.nullable(), high: plainQuantity.nullable() }).nullable(),
    }),
    findings: z.array(
      z.strictObject({ code: z.string(), level: z.enum(['note', 'caution', 'hold']), detail: z.string() }),
    ),
  })
  .meta({ id: 'LimbWeightAnswer' })

export function calculationRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/calculations/axis-offset',
    action: 'calculations.run',
    tag: 'calculations',
    summary: 'Axis check of a seated knee: pad positions at angles to the offset, its effect, and what to move',
    description:
      'A verdict only where the interval clears the tolerance. Readings at five angles settle it far better than at three; two never do.', // prettier-ignore
    body: axisOffsetQuestion,
    answers: { 200: axisOffsetAnswer },
    refusals: [413],
    answer: async (ctx, { document }) => ({ body: await calculateAxisOffset(ctx, { document }) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/calculations/limb-weight',
    action: 'calculations.run',
    tag: 'calculations',
    summary: 'Limb weighing to the gravity moment, and whether a limb of that body can weigh it',
    body: limbWeightQuestion,
    answers: { 200: limbWeightAnswer },
    refusals: [413],
    answer: async (ctx, { document }) => ({ body: await calculateLimbWeight(ctx, { document }) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/calculations/unit-conversion',
    action: 'calculations.run',
    tag: 'calculations',
    summary: 'One quantity in another unit of its kind',
    body: unitConversionQuestion,
    answers: {
      200: z.strictObject({
        from: plainQuantity,
        to: plainQuantity,
        kind: z.string(),
        accepted: z.array(z.string()).describe('Every unit of this kind'),
      }),
    },
    refusals: [413],
    answer: async (ctx, { document }) => ({ body: await convertUnit(ctx, { document }) }),
  })
}
