/** What the setup routes answer. */
import { z } from 'zod'
import { day, id, instant, plainQuantity, plainSystemAndValue } from './common.ts'
import { comparabilityReason, comparabilityVerdict } from './session.ts'

const side = z.enum(['left', 'right'])
const yesNo = z.enum(['yes', 'no'])

export const referenceSetup = z
  .strictObject({
    id,
    subjectId: id,
    joint: z.string(),
    side,
    dynamometerId: id,
    version: z.number().int().describe('Of the pin, for this limb on this machine'),
    inForce: yesNo,
    session: z.strictObject({
      id,
      version: z.number().int(),
      startedAt: instant,
      descriptionVersion: z.number().int().nullable(),
      state: z.enum(['as_pinned', 'amended_since', 'withdrawn_since']),
    }),
    setup: z.looseObject({ key: z.string() }).describe('As pushed'),
    reason: z.string(),
    pinnedBy: id,
    pinnedAt: instant,
    supersededAt: instant.nullable(),
  })
  .meta({ id: 'ReferenceSetup' })

const origin = z
  .enum([
    'plan',
    'reference',
    'last_session',
    'mirrored_reference',
    'mirrored_last_session',
    'description_default',
    'rule_of_thumb',
    'unknown',
  ]) // prettier-ignore
  .describe('Where the value comes from')

const value = z.union([
  plainQuantity,
  z.strictObject({ scale: z.string(), mark: z.string() }),
  z.string(),
  z.boolean(),
  z.null(),
])

const startItem = z
  .strictObject({ key: z.string(), label: z.string(), value, origin, tolerance: plainQuantity.optional() })
  .meta({ id: 'StartValue' })

const plannedSet = z.strictObject({
  directions: z.array(z.strictObject({ movement: z.string(), contractionMode: z.string(), velocity: plainQuantity })),
  contractionScheme: z.string(),
  intendedRepetitions: z.number().int().optional(),
  restBefore: plainQuantity.optional(),
  beyond: z.array(z.string()).describe('Precautions this set goes beyond'),
})

export const nextSetup = z
  .strictObject({
    identityCheck: z.strictObject({
      clinic: z.string(),
      on: day,
      subject: z.strictObject({
        id,
        name: z.string().optional(),
        birthDate: day.optional(),
        identifiers: z.array(plainSystemAndValue),
      }),
      limb: z.strictObject({ joint: z.string(), side }),
      dynamometer: z.strictObject({ id, name: z.string(), descriptionVersion: z.number().int() }),
      reference: z
        .strictObject({ id, version: z.number().int(), pinnedAt: instant, sessionId: id, testedOn: day })
        .nullable(),
      ask: z.array(z.string()),
    }),
    precautionsAndLimits: z.strictObject({
      episodes: z.array(
        z.strictObject({
          id,
          involvedSide: z.string(),
          surgeryOn: day.nullable(),
          sinceSurgery: plainQuantity.nullable(),
          speaksOfThisLimb: yesNo,
          precautions: z.array(
            z.strictObject({
              kind: z.string(),
              inWords: z.string(),
              setBy: z.string(),
              inForce: yesNo,
              note: z.string().optional(),
            }),
          ),
        }),
      ),
      screening: z.strictObject({ listVersion: z.string(), questions: z.number().int() }),
      stopCriteria: z.array(z.string()),
    }),
    mechanicalStops: z.array(
      z.strictObject({
        movement: z.string(),
        value: plainQuantity,
        origin,
        limitedBy: z
          .strictObject({ precaution: z.literal('range_limit'), instead: plainQuantity })
          .nullable()
          .describe('A limit of today that is narrower than the value on record'),
      }),
    ),
    partsToFetch: z.array(startItem),
    chairAndMachine: z.array(startItem),
    fittingTheSubject: z.array(startItem),
    measureAgain: z.array(z.strictObject({ what: z.string(), label: z.string(), carriedOver: z.literal('never') })),
    changedSinceReference: z.array(
      z.strictObject({
        what: z.string(),
        reference: z.string().nullable(),
        lastSession: z.string().nullable(),
        reason: z.string().nullable(),
      }),
    ),
    plannedTest: z.strictObject({
      origin: z.enum(['plan', 'last_session', 'none']),
      planId: id.nullable(),
      plannedOn: day.nullable(),
      precautionReason: z.string().nullable(),
      sets: z.array(plannedSet),
      leftOut: z.array(plannedSet),
    }),
    warnings: z.array(z.strictObject({ code: z.string(), message: z.string() })),
    notes: z.array(z.string()),
  })
  .meta({ id: 'NextSetup' })

export const testPlan = z
  .strictObject({
    id,
    subjectId: id,
    dynamometerId: id,
    plan: z.looseObject({}).describe('As written'),
    beyondPrecautions: z.array(z.string()),
    precautionReason: z.string().nullable(),
    recordedBy: id,
    recordedAt: instant,
  })
  .meta({ id: 'TestPlan' })

const reasonValue = z.union([plainQuantity, z.string(), z.null()])

const whatToDo = z
  .strictObject({
    putBack: z.array(z.strictObject({ factor: z.string(), to: reasonValue, now: reasonValue })),
    measureAgain: z.array(z.string()),
    unknownInReference: z.array(z.string()).describe('Nothing can be put back: the reference does not say'),
  })
  .meta({ id: 'WhatToPutBack' })

export const preflightAnswer = z
  .strictObject({
    reference: z
      .strictObject({ id, version: z.number().int(), sessionId: id, testedAt: instant, state: z.string() })
      .nullable(),
    directions: z.array(
      z.strictObject({
        movement: z.string(),
        contractionMode: z.string(),
        measures: z.array(
          z.strictObject({
            measure: z.string(),
            verdict: comparabilityVerdict,
            toCompare: whatToDo.describe('The least that must change for the measure to compare'),
            toCompareWithoutCaution: whatToDo.describe('And what then stands between caution and none'),
            reasons: z.array(comparabilityReason),
          }),
        ),
      }),
    ),
    stillToMeasure: z.array(z.string()),
    beyondPrecautions: z.array(z.string()),
    notes: z.array(z.string()),
  })
  .meta({ id: 'PreflightAnswer' })
