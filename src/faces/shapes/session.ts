/** What the session routes answer. */
import { z } from 'zod'
import { MEASURES } from '../../domain/code-lists.ts'
import { recordingDocument, sessionDocument, setDocument } from '../../domain/session-document.ts'
import { axisErrors, axisMove } from './axis-offset.ts'
import { id, instant, plainQuantity, plainSystemAndValue, seriesIdentity } from './common.ts'

export const measuredValue = z
  .strictObject({
    value: z.number().nullable(),
    unit: z.string(),
    reason: z.string().optional().describe('Why there is no value'),
    repetition: z.number().int().optional(),
    n: z.number().int().optional().describe('Repetitions behind it'),
    derived: z.enum(['from_reported_value']).optional().describe('Worked out here from what a device reported'),
    resultId: id.optional(),
  })
  .meta({ id: 'MeasuredValue' })

const statistics = z
  .strictObject({
    best: measuredValue.optional(),
    mean: measuredValue.optional(),
    total: measuredValue.optional(),
    coefficientOfVariation: measuredValue.optional(),
  })
  .meta({ id: 'Statistics' })

const torqueAtAngle = z.array(z.strictObject({ angle: plainQuantity, best: measuredValue, mean: measuredValue }))

/** What may stand in an answer, by measure. Each result has the ones that its contraction mode and recording allow. */
const ofEachMeasure = Object.fromEntries(
  MEASURES.map((measure) => [measure, measure === 'torqueAtAngle' ? torqueAtAngle.optional() : statistics.optional()]),
) as Record<Exclude<(typeof MEASURES)[number], 'torqueAtAngle'>, z.ZodOptional<typeof statistics>> & {
  torqueAtAngle: z.ZodOptional<typeof torqueAtAngle>
}

export const measures = z
  .strictObject(ofEachMeasure)
  .meta({ id: 'Measures', description: 'By measure: statistics with value and unit, or null and a reason' })

export const result = z
  .strictObject({
    id,
    set: z.string(),
    side: z.enum(['left', 'right']),
    ...seriesIdentity,
    origin: z.enum(['computed', 'reported']),
    state: z.enum(['final', 'held', 'superseded']),
    measures,
    repetitions: z.strictObject({
      counted: z.number().int().nullable(),
      notCounted: z.array(z.strictObject({ repetition: z.number().int(), reason: z.string() })),
    }),
    method: z.looseObject({}),
    computeVersion: z.string(),
  })
  .meta({ id: 'Result' })

const reasonValue = z.union([plainQuantity, z.string(), z.null()])

export const comparabilityReason = z
  .strictObject({
    factor: z.string(),
    effect: z.enum(['note', 'caution', 'not_assessable', 'not_comparable']),
    before: reasonValue,
    now: reasonValue,
    difference: plainQuantity.optional().describe('How far apart, unrounded; absent for words and for what is unknown'),
    tolerance: plainQuantity.optional(),
    source: z.string(),
  })
  .meta({ id: 'ComparabilityReason' })

export const comparabilityVerdict = z.enum([
  'comparable',
  'comparable_with_caution',
  'not_assessable',
  'not_comparable',
])

export const interval = z
  .strictObject({ low: z.number(), high: z.number(), confidence: z.number() })
  .meta({ id: 'Interval' })

export const symmetryEntry = z
  .strictObject({
    joint: z.string().optional(),
    movement: z.string().optional(),
    contractionMode: z.string().optional(),
    velocity: plainQuantity.optional(),
    measure: z.string(),
    statistic: z.string(),
    left: measuredValue,
    right: measuredValue,
    limbSymmetryIndex: z.strictObject({
      value: z.number().nullable(),
      unit: z.literal('%'),
      reason: z.string().optional(),
      interval: interval.optional(),
      intervalReason: z.string().optional().describe('Why there is no interval'),
    }),
    deficit: z.strictObject({
      value: z.number().nullable(),
      unit: z.literal('%'),
      reason: z.string().optional(),
      interval: interval.optional(),
    }),
    weakerSide: z.enum(['left', 'right', 'equal']).nullable(),
    estimatedPreInjuryCapacity: z.strictObject({
      value: z.number().nullable(),
      unit: z.literal('%'),
      reason: z.string().optional(),
      referenceResultId: id.optional(),
      testedWhen: z.enum(['pre_injury', 'pre_operative']).optional(),
      cautions: z.array(z.string()),
    }),
    setupsMatch: comparabilityVerdict,
    reasons: z.array(comparabilityReason),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'SymmetryEntry' })

export const flag = z
  .strictObject({
    id,
    code: z.string(),
    level: z.enum(['note', 'caution', 'hold']),
    status: z.enum(['open', 'confirmed', 'dismissed']),
    pointer: z.string(),
    sessionId: id,
    resultId: id.optional(),
    message: z.string(),
    effect: z.string(),
    evidence: z.looseObject({}),
    resolution: z.strictObject({ by: id.nullable(), at: instant, reason: z.string().nullable() }).optional(),
  })
  .meta({ id: 'Flag' })

export const sessionHead = z
  .strictObject({
    id,
    version: z.number().int(),
    state: z.enum(['final', 'amended', 'entered_in_error']),
    externalId: plainSystemAndValue.nullable(),
    subjectId: id,
    episodeId: id.nullable(),
    dynamometerId: id.nullable(),
    descriptionVersion: z.number().int().nullable(),
    startedAt: instant,
    sinceSurgery: plainQuantity.nullable(),
    recordedAt: instant,
  })
  .meta({ id: 'SessionHead' })

export const withdrawnSession = z.strictObject({ session: sessionHead }).meta({ id: 'WithdrawnSession' })

const judged = z.strictObject({ verdict: z.enum(['yes', 'no', 'unknown']), reason: z.string().nullable() })

const setupFindings = z.strictObject({
  setup: z.string(),
  side: z.enum(['left', 'right']),
  gravityMoment: measuredValue,
  limbWeightPlausible: judged,
  weighingsAgree: judged,
  axisOffset: z.strictObject({
    forward: plainQuantity.optional(),
    up: plainQuantity.optional(),
    halfWidth: plainQuantity.optional(),
    confidence: z.number().optional(),
    verdict: z.enum(['within_tolerance', 'beyond_tolerance', 'cannot_tell', 'not_assessable']),
    reason: z.string().optional(),
    tolerance: plainQuantity,
    errors: axisErrors.nullable().describe('From stop to stop; null where the distance of the pad is not known'),
    move: z.array(axisMove).nullable().describe('Only where the offset is beyond tolerance; seat or machine, not both'),
  }),
  seatDepthSufficient: judged,
})

export const comparabilityEntry = z
  .strictObject({
    with: z
      .enum(['baseline', 'previous', 'reference'])
      .describe('reference: the setup pinned for this limb on this machine; the setup alone'),
    sessionId: id,
    resultId: id,
    againstResultId: id.optional(),
    referenceSetupId: id.optional(),
    set: z.string(),
    side: z.enum(['left', 'right']),
    movement: z.string(),
    verdicts: z.partialRecord(z.enum(MEASURES), comparabilityVerdict),
    reasons: z.array(comparabilityReason),
  })
  .meta({ id: 'ComparabilityEntry' })

const described = {
  session: sessionHead,
  computeVersion: z.string(),
  setupFindings: z.array(setupFindings),
  results: z.array(result),
  symmetry: z.array(symmetryEntry),
  flags: z.array(flag),
}

export const pushedSession = z
  .strictObject({ ...described, comparability: z.array(comparabilityEntry) })
  .meta({ id: 'PushedSession' })

export const session = z
  .strictObject({ ...described, document: z.looseObject({}).describe('As pushed; samples replaced by their hash') })
  .meta({ id: 'Session' })

/** A session with its head not apart from the rest. */
export const wholeSession = sessionHead
  .extend({ ...described, document: session.shape.document })
  .omit({ session: true })
  .meta({ id: 'WholeSession', description: 'One visit: what was sent and what came of it' })

/** A session as it was pushed, its samples replaced by their hash. */
export const sessionAsSent = sessionDocument.extend({
  sets: z.array(
    setDocument.extend({
      recording: recordingDocument
        .omit({ channels: true, csv: true })
        .extend({
          encoding: z.enum(['values', 'f32leBase64', 'csv', 'mixed', 'stored']),
          channels: z.array(z.strictObject({ name: z.string(), unit: z.string() })),
          sha256: z.string(),
          sampleCount: z.int(),
        })
        .optional(),
    }),
  ),
})

export const sessionVersion = sessionHead
  .extend({
    kind: z.enum(['pushed', 'amended', 'entered_in_error']),
    reason: z.string().nullable(),
    recordedBy: z.strictObject({ id, name: z.string().nullable() }),
    supersededAt: instant.nullable(),
    document: z.looseObject({}),
  })
  .meta({ id: 'SessionVersion' })

export const sessionSummary = z
  .strictObject({
    id,
    version: z.number().int(),
    state: z.enum(['final', 'amended', 'entered_in_error']),
    subjectId: id,
    episodeId: id.nullable(),
    testedAt: instant,
  })
  .meta({ id: 'SessionSummary' })

export const workListItem = flag.extend({ subjectId: id }).meta({ id: 'WorkListItem' })
