/** What the result, series and recording routes answer beside the result of a session. */
import { z } from 'zod'
import { MEASURES } from '../../domain/code-lists.ts'
import { id, instant, plainQuantity, seriesIdentity } from './common.ts'
import { flag, measuredValue, result } from './session.ts'

const repetition = z
  .strictObject({
    repetition: z.number().int(),
    counted: z.enum(['yes', 'no']),
    reason: z.string().optional().describe('Why it does not count'),
    start: plainQuantity,
    end: plainQuantity,
    contraction: z.enum(['concentric', 'eccentric', 'isometric', 'unknown']),
    loadRange: z
      .strictObject({ start: plainQuantity, end: plainQuantity, startAngle: plainQuantity, endAngle: plainQuantity })
      .nullable(),
    rise: measuredValue,
    deceleration: measuredValue,
    measures: z.partialRecord(z.enum(MEASURES), measuredValue),
    torqueAtAngle: z.array(z.strictObject({ angle: plainQuantity, torque: measuredValue })),
    rateOfTorqueDevelopment: z.array(z.strictObject({ window: plainQuantity, rate: measuredValue })),
    peakRateOfTorqueDevelopment: measuredValue,
    flags: z.array(z.string()),
  })
  .meta({ id: 'Repetition' })

const sha256 = z.string().regex(/^[0-9a-f]{64}$/)

export const resultDetail = result
  .extend({
    repetitions: result.shape.repetitions.extend({
      list: z.array(repetition).describe('In the order performed; empty where values were reported'),
    }),
    subjectId: id,
    session: z.strictObject({ id, version: z.number().int(), startedAt: instant }),
    setup: z.strictObject({ id, key: z.string().describe('Of the setup in the document of that session version') }),
    recordingSha256: sha256.nullable().describe('null: the values were reported'),
    parameters: z.looseObject({}).describe('All parameters of the analysis'),
    parametersSha256: sha256,
    bodyMass: plainQuantity.nullable(),
    flags: z.array(flag),
    recordedAt: instant,
  })
  .meta({ id: 'ResultDetail' })

export const series = z
  .strictObject({
    ...seriesIdentity,
    sides: z.array(
      z.strictObject({ side: z.enum(['left', 'right']), tests: z.number().int(), firstAt: instant, lastAt: instant }),
    ),
    measures: z.array(
      z.strictObject({
        measure: z.string(),
        statistics: z.array(z.enum(['best', 'mean', 'total', 'coefficientOfVariation'])),
        angles: z.array(plainQuantity).optional().describe('Of torqueAtAngle'),
      }),
    ),
  })
  .meta({ id: 'Series' })

const processing = z.enum(['none', 'applied', 'unknown'])

export const recording = z
  .strictObject({
    sessionId: id,
    version: z.number().int(),
    set: z.string(),
    side: z.enum(['left', 'right']),
    sha256: sha256.describe('Of the canonical header, a line feed and the samples as stored; held before each reading'),
    header: z
      .strictObject({
        format: z.string(),
        channels: z.array(z.string()),
        sampleCount: z.number().int(),
        sampleRateHz: z.number().nullable(),
        torquePositive: z.string(),
        anglePositive: z.string(),
        readingAtAnatomicalZeroDeg: z.number(),
        torqueState: z.enum(['measured', 'gravity_corrected', 'unknown']),
        deviceFilter: processing,
        deviceWindowing: processing,
      })
      .describe('As hashed'),
    sampleRate: plainQuantity.nullable().describe('null: uneven, and the first channel is time'),
    channels: z.array(z.strictObject({ name: z.string(), unit: z.string(), values: z.array(z.number()) })),
  })
  .meta({ id: 'RecordingAsStored' })
