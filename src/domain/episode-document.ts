import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { quantity } from './quantities.ts'
import { personReference, recordReference } from './session-document.ts'
import { shortText, systemAndValue, wordKey } from './shapes.ts'

const angle = quantity('angle', { min: -360, max: 360 })
const movement = z.enum(lists.MOVEMENTS)
const contractionMode = z.enum(lists.codesOf(lists.CONTRACTION_MODES))
const setBy = { setBy: z.enum(['surgeon', 'clinic']), note: shortText(2000).optional() }

/** What may not be tested yet. A plan that breaks one needs a clinician's reason; a test already done is stored and flagged. */
const precaution = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('earliest_week'),
    week: z.int().min(0).max(520),
    contractionMode: contractionMode.optional(),
    movement: movement.optional(),
    ...setBy,
  }),
  z.strictObject({
    kind: z.literal('range_limit'),
    lowest: angle,
    highest: angle,
    movement: movement.optional(),
    untilWeek: z.int().min(0).max(520).optional(),
    ...setBy,
  }),
  z.strictObject({
    kind: z.literal('contraction_mode_excluded'),
    contractionMode,
    movement: movement.optional(),
    untilWeek: z.int().min(0).max(520).optional(),
    ...setBy,
  }),
])

export const episodeDocument = z
  .strictObject({
    externalId: systemAndValue.optional(),
    subject: personReference,
    joint: z.enum(lists.JOINTS),
    involvedSide: z.enum(['left', 'right', 'bilateral', 'none']),
    /** Decides whether the other limb may serve as the denominator of a symmetry. */
    otherLimbHistory: z.enum(['none_known', 'injury', 'surgery', 'unknown']).default('unknown'),
    condition: shortText(500).optional(),
    injuredOn: z.iso.date().optional(),
    surgeryOn: z.iso.date().optional(),
    procedure: shortText(500).optional(),
    graft: z.strictObject({ type: shortText(100), side: z.enum(lists.SIDES) }).optional(),
    precautions: z.array(precaution).max(50).default([]),
    /** Named in advance: a verdict on any other measure is exploratory. */
    primaryMeasures: z
      .array(
        z.strictObject({
          movement,
          contractionMode,
          contractionScheme: z.enum(lists.codesOf(lists.CONTRACTION_SCHEMES)).optional(),
          velocity: quantity('angular_velocity', { min: 0, max: 600 }),
          measure: z.enum(lists.MEASURES),
        }),
      )
      .max(3)
      .default([]),
    baselineSession: recordReference.optional(),
    criteriaSet: z.strictObject({ key: wordKey, version: z.int().min(1) }).optional(),
    status: z.enum(['active', 'completed', 'cancelled']).default('active'),
  })
  .superRefine((episode, context) => {
    const { injuredOn, surgeryOn, joint, precautions, primaryMeasures } = episode
    if (injuredOn !== undefined && surgeryOn !== undefined && surgeryOn < injuredOn) {
      fail(context, ['surgeryOn'], 'out_of_order', 'The surgery lies before the injury.')
    }
    const movements = lists.JOINT_MOVEMENTS[joint].flat()
    for (const [name, list] of Object.entries({ precautions, primaryMeasures })) {
      list.forEach(({ movement }, index) => {
        if (movement !== undefined && !movements.includes(movement))
          fail(context, [name, index, 'movement'], 'movement_not_of_joint', 'This joint has no such movement.')
      })
    }
    precautions.forEach((one, index) => {
      if (one.kind === 'range_limit' && one.lowest.canonicalValue >= one.highest.canonicalValue)
        fail(context, ['precautions', index, 'highest'], 'out_of_order', 'The highest angle is not above the lowest.')
    })
  })
  .meta({ id: 'EpisodeDocument' })

export type EpisodeDocument = z.output<typeof episodeDocument>

/** Of an episode on record, whatever rules its other fields were written under. */
export const precautionsOnRecord = z.object({ precautions: z.array(precaution).default([]) })
