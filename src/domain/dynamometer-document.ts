/**
 * A dynamometer as the clinic describes it. No maker's scales are built in: every setting has the clinic's own name, unit or
 * marks, says how it carries over to the other limb, how closely it must be put back and what a difference affects.
 */
import { z } from 'zod'
import { COMPARED_MEASURES } from '../compute/comparability/facts.ts'
import { convert, unitKind } from '../compute/units/index.ts'
import { fail } from './faults.ts'
import { quantity, unitText } from './quantities.ts'
import { camelKey, shortText, systemAndValue, wordKey } from './shapes.ts'

const common = {
  key: camelKey,
  label: shortText(200),
  /** The factor of the comparability rules that this dial stands for, e.g. "backrest_angle"; absent: the clinic's own. */
  factor: z
    .string()
    .regex(/^[a-z][a-z0-9_]{0,63}$/)
    .optional(),
  mirror: z.enum(['same', 'negated', 'same_mark_on_other_scale', 'own_value']),
  affects: z.union([z.literal('all'), z.array(z.enum(COMPARED_MEASURES)).max(COMPARED_MEASURES.length)]).default('all'),
  effectBeyondTolerance: z.enum(['note', 'caution', 'not_comparable']).default('caution'),
}

const setting = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('quantity'),
    ...common,
    unit: unitText(null),
    range: z.strictObject({ low: z.number(), high: z.number() }),
    step: z.number().positive().optional(),
    tolerance: z.strictObject({ value: z.number().min(0), unit: unitText(null) }).optional(),
  }),
  z.strictObject({
    kind: z.literal('scaleMark'),
    ...common,
    /** One scale for both limbs, or one a side. */
    scales: z.strictObject({ left: shortText(64), right: shortText(64) }),
    marks: z.array(shortText(64)).min(1).max(200),
    /** Marks stand in order: a tolerance counts places. */
    ordered: z.boolean().default(true),
    toleranceMarks: z.int().min(0).max(100).optional(),
  }),
  z.strictObject({ kind: z.literal('choice'), ...common, choices: z.array(wordKey).min(1).max(100) }),
  z.strictObject({ kind: z.literal('boolean'), ...common }),
])

export type SettingDescription = z.output<typeof setting>

const attachment = z
  .strictObject({
    key: wordKey,
    label: shortText(200),
    leverArmLength: z
      .strictObject({ low: quantity('length', { min: 0, max: 2 }), high: quantity('length', { min: 0, max: 2 }) })
      .optional(),
    mass: quantity('mass', { min: 0, max: 50 }).optional(),
  })
  .superRefine(({ leverArmLength: arm }, context) => {
    if (arm !== undefined && arm.low.canonicalValue > arm.high.canonicalValue)
      fail(context, ['leverArmLength'], 'out_of_order', 'The low end lies above the high end.')
  })

export const dynamometerDocument = z
  .strictObject({
    externalId: systemAndValue.optional(),
    name: shortText(200),
    /** The clinic's word for machines that may stand in for each other, with a calibration check. */
    deviceFamily: shortText(100).optional(),
    settings: z.array(setting).max(100).default([]),
    attachments: z.array(attachment).max(50).default([]),
  })
  .superRefine((description, context) => {
    refuseRepeats(description.settings, 'settings', context)
    refuseRepeats(description.attachments, 'attachments', context)
    description.settings.forEach((one, index) => checkSetting(one, ['settings', index], context))
  })
  .meta({ id: 'DynamometerDocument' })

export type DynamometerDescription = z.output<typeof dynamometerDocument>

function refuseRepeats(list: readonly { key: string }[], name: string, context: z.core.$RefinementCtx): void {
  const seen = new Set<string>()
  list.forEach(({ key }, index) => {
    if (seen.has(key)) fail(context, [name, index, 'key'], 'repeated', 'This key stands twice in the list.')
    seen.add(key)
  })
}

function checkSetting(one: SettingDescription, at: readonly (string | number)[], context: z.core.$RefinementCtx): void {
  if (one.kind === 'quantity') {
    if (one.range.low > one.range.high)
      fail(context, [...at, 'range'], 'out_of_order', 'The low end lies above the high end.')
    if (one.tolerance !== undefined && unitKind(one.tolerance.unit) !== unitKind(one.unit))
      fail(
        context,
        [...at, 'tolerance', 'unit'],
        'unit_wrong_kind',
        'The tolerance is of another kind than the setting.',
      )
    if (one.mirror === 'negated' && one.range.low !== -one.range.high)
      fail(context, [...at, 'range'], 'not_symmetric', 'A setting that is negated for the other limb needs a range symmetric about 0.') // prettier-ignore
  }
  if (one.mirror === 'negated' && one.kind !== 'quantity')
    fail(context, [...at, 'mirror'], 'not_in_list', 'Only a quantity can be negated for the other limb.')
  if (one.mirror === 'same_mark_on_other_scale' && one.kind !== 'scaleMark')
    fail(context, [...at, 'mirror'], 'not_in_list', 'Only a mark on a scale has a mark on the other scale.')
}

/** In the unit of the setting; null: any difference counts. */
export function toleranceOf(one: SettingDescription): number | null {
  if (one.kind === 'scaleMark') return one.toleranceMarks ?? 0
  if (one.kind !== 'quantity' || one.tolerance === undefined) return null
  return convert(one.tolerance.value, one.tolerance.unit, one.unit)
}
