/**
 * A dynamometer as the clinic describes it. No maker's scales are built in: every setting has the clinic's own name, unit or
 * marks, says how it carries over to the other limb, how closely it must be put back and what a difference affects.
 */
import { z } from 'zod'
import { COMPARED_MEASURES } from '../compute/comparability/facts.ts'
import { DEFAULT_COMPARABILITY_RULES } from '../compute/comparability/rules.ts'
import { convert, unitKind } from '../compute/units/index.ts'
import { fail } from './faults.ts'
import { quantity, quantityOfAnyKind, unitText } from './quantities.ts'
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
    /** Where a first test starts, before the subject sits: not a final value. Of a negated setting: for the right limb. */
    startValue: quantityOfAnyKind().optional(),
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
    startMark: shortText(64).optional(),
  }),
  z.strictObject({
    kind: z.literal('choice'),
    ...common,
    choices: z.array(wordKey).min(1).max(100),
    startChoice: wordKey.optional(),
  }),
  z.strictObject({ kind: z.literal('boolean'), ...common, startsOn: z.boolean().optional() }),
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

/** A part that may be used or left away, beside straps and supports: recorded as used, not used or not recorded. */
const optionalPart = z.strictObject({
  key: camelKey,
  label: shortText(200),
  affects: common.affects,
  effectOfDifference: z.enum(['note', 'caution', 'not_comparable']).default('caution'),
})

/** A description on record is read by its shape alone: setups were made under it, whatever rules came later. */
export const dynamometerOnRecord = z.strictObject({
  externalId: systemAndValue.optional(),
  name: shortText(200),
  /** The clinic's word for machines that may stand in for each other, with a calibration check. */
  deviceFamily: shortText(100).optional(),
  settings: z.array(setting).max(100).default([]),
  attachments: z.array(attachment).max(50).default([]),
  optionalParts: z.array(optionalPart).max(50).default([]),
})

export const dynamometerDocument = dynamometerOnRecord
  .superRefine((description, context) => {
    refuseRepeats(description.settings, 'settings', context)
    refuseRepeats(description.optionalParts, 'optionalParts', context)
    description.optionalParts.forEach(({ key }, index) => {
      if (description.settings.some((one) => one.key === key))
        fail(context, ['optionalParts', index, 'key'], 'repeated', 'A setting has this key.')
    })
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
  checkFactor(one, at, context)
  switch (one.kind) {
    case 'quantity':
      checkQuantity(one, at, context)
      break
    case 'scaleMark':
      refuseTwice(one.marks, [...at, 'marks'], context)
      if (one.startMark !== undefined && !one.marks.includes(one.startMark))
        fail(context, [...at, 'startMark'], 'not_in_list', 'This is none of the marks.')
      if (!one.ordered && one.toleranceMarks !== undefined)
        fail(context, [...at, 'toleranceMarks'], 'not_applicable', 'Marks without an order have no places to count.')
      break
    case 'choice':
      refuseTwice(one.choices, [...at, 'choices'], context)
      if (one.startChoice !== undefined && !one.choices.includes(one.startChoice))
        fail(context, [...at, 'startChoice'], 'not_in_list', 'This is none of the choices.')
      break
    case 'boolean':
      break
  }
  if (one.mirror === 'negated' && one.kind !== 'quantity')
    fail(context, [...at, 'mirror'], 'not_in_list', 'Only a quantity can be negated for the other limb.')
  if (one.mirror === 'same_mark_on_other_scale' && one.kind !== 'scaleMark')
    fail(context, [...at, 'mirror'], 'not_in_list', 'Only a mark on a scale has a mark on the other scale.')
}

/** A dial that a rule measures must be measured in what the rule's limits are in. */
function checkFactor(one: SettingDescription, at: readonly (string | number)[], context: z.core.$RefinementCtx): void {
  const rule = DEFAULT_COMPARABILITY_RULES.find(({ factor, compares }) => compares.kind === 'setting' && factor === one.factor) // prettier-ignore
  if (rule === undefined || rule.unit === null) return
  const kind = one.kind === 'quantity' ? unitKind(one.unit) : 'none'
  // A text that is no unit at all has been refused by the shape
  if (kind !== null && kind !== unitKind(rule.unit))
    fail(context, [...at, 'factor'], 'unit_wrong_kind', `The rule of this factor is for a quantity in ${rule.unit}.`)
}

function refuseTwice(words: readonly string[], at: readonly (string | number)[], context: z.core.$RefinementCtx): void {
  words.forEach((word, index) => {
    if (words.indexOf(word) !== index) fail(context, [...at, index], 'repeated', 'This stands twice in the list.')
  })
}

type QuantitySetting = Extract<SettingDescription, { kind: 'quantity' }>

function checkQuantity(one: QuantitySetting, at: readonly (string | number)[], context: z.core.$RefinementCtx): void {
  const { range, step, tolerance, mirror } = one
  if (range.low > range.high) fail(context, [...at, 'range'], 'out_of_order', 'The low end lies above the high end.')
  if (tolerance !== undefined && unitKind(tolerance.unit) !== unitKind(one.unit))
    fail(context, [...at, 'tolerance', 'unit'], 'unit_wrong_kind', 'The tolerance is of another kind than the setting.')
  checkStartValue(one, at, context)
  if (mirror !== 'negated') return
  if (range.low !== -range.high)
    fail(context, [...at, 'range'], 'not_symmetric', 'A setting that is negated for the other limb needs a range symmetric about 0.') // prettier-ignore
  else if (!isOnStep(range.high, one))
    fail(context, [...at, 'step'], 'not_symmetric', `Steps of ${step} from ${range.low} miss their own negatives: the range is no whole number of them.`) // prettier-ignore
}

function checkStartValue(one: QuantitySetting, at: readonly (string | number)[], context: z.core.$RefinementCtx): void {
  const { unit, range, startValue } = one
  if (startValue === undefined) return
  if (unitKind(startValue.unit) !== unitKind(unit)) {
    fail(context, [...at, 'startValue', 'unit'], 'unit_wrong_kind', 'The start value is of another kind.')
    return
  }
  const value = convert(startValue.value, startValue.unit, unit)
  if (value < range.low - 1e-9 || value > range.high + 1e-9)
    fail(context, [...at, 'startValue', 'value'], 'out_of_range', 'The start value lies outside the range.')
  else if (!isOnStep(value, one))
    fail(context, [...at, 'startValue', 'value'], 'out_of_range', 'The start value lies between two steps.')
}

/** Steps are counted from the low end of the range; the value is in the unit of the setting. */
export function isOnStep(value: number, { step, range }: Pick<QuantitySetting, 'step' | 'range'>): boolean {
  if (step === undefined) return true
  const steps = (value - range.low) / step
  return Math.abs(steps - Math.round(steps)) < 1e-6
}

/** In the unit of the setting; null: any difference counts. */
export function toleranceOf(one: SettingDescription): number | null {
  if (one.kind === 'scaleMark') return one.toleranceMarks ?? 0
  if (one.kind !== 'quantity' || one.tolerance === undefined) return null
  return convert(one.tolerance.value, one.tolerance.unit, one.unit)
}
