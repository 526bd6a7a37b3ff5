/**
 * A criteria set as data: the shape that a clinic sends and that the published sets are held against. The words in it are
 * those of the code lists, so that a criterion can't ask for a test that nobody can record.
 */
import { z } from 'zod'
import { checkCriteriaSet } from '../compute/index.ts'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { quantity, quantityOfAnyKind } from './quantities.ts'
import type { QuantityKind } from './quantities.ts'
import { shortText, wordKey } from './shapes.ts'

const comparator = z.enum(['<', '<=', '>', '>='])
/** The camelCase name shown as `measure`. */
const measureName = z.string().regex(/^[a-z][A-Za-z0-9]{0,63}$/)
const codesOf = (...forms: readonly lists.FunctionalTest['form'][]) =>
  z.enum(
    lists.FUNCTIONAL_TESTS.filter((test) => forms.includes(test.form)).map((test) => test.code) as [
      string,
      ...string[],
    ],
  )

/** A threshold is compared in the unit that the set names, so what is stored is what was sent. */
const plain = (shape: z.ZodType<{ value: number; unit: string }>) => shape.transform(({ value, unit }) => ({ value, unit })) // prettier-ignore
const threshold = (kind: QuantityKind) => {
  const one = plain(quantity(kind))
  return z.union([one, z.strictObject({ bySex: z.strictObject({ female: one, male: one }) })])
}
const anyThreshold = plain(quantityOfAnyKind())

const strengthSeries = z.strictObject({
  movement: z.enum(lists.MOVEMENTS),
  contractionMode: z.enum(lists.codesOf(lists.CONTRACTION_MODES)).nullable(),
  velocityDegS: z.number().min(0).max(600).nullable(),
  measure: z.enum(lists.MEASURES),
  statistic: z.enum(lists.codesOf(lists.STATISTICS)),
})

const base = {
  key: wordKey,
  measure: measureName,
  maximumAgeDays: z.int().min(0).max(3650).nullable().describe('null: evidence of any age counts'),
}
const compared = { ...base, comparator }

const criterion = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('strength_symmetry'),
    ...compared,
    expression: z.enum(['symmetry', 'deficit', 'pre_injury_capacity']),
    series: strengthSeries,
    threshold: threshold('proportion'),
    comparabilityNeeded: z.enum(['comparable', 'comparable_with_caution']),
  }),
  z.strictObject({
    kind: z.literal('strength_ratio'),
    ...compared,
    numerator: strengthSeries,
    denominator: strengthSeries,
    threshold: threshold('proportion'),
  }),
  z.strictObject({
    kind: z.literal('normalised_torque'),
    ...compared,
    series: strengthSeries,
    threshold: threshold('torque_per_body_mass'),
  }),
  z.strictObject({
    kind: z.literal('functional_symmetry'),
    ...compared,
    expression: z.enum(['symmetry', 'pre_injury_capacity']),
    test: codesOf('trials'),
    betterWhen: z.enum(['higher', 'lower']),
    threshold: threshold('proportion'),
  }),
  z.strictObject({
    kind: z.literal('functional_value'),
    ...compared,
    test: codesOf('trials', 'total'),
    limb: z.enum(['involved', 'none']),
    threshold: z.union([anyThreshold, z.strictObject({ bySex: z.strictObject({ female: anyThreshold, male: anyThreshold }) })]), // prettier-ignore
  }),
  z.strictObject({
    kind: z.literal('questionnaire_total'),
    ...compared,
    questionnaire: codesOf('total'),
    formVersions: z.array(shortText(64)).min(1).max(10).nullable().describe('null: a total of any form counts'),
    threshold: threshold('score'),
  }),
  z.strictObject({ kind: z.literal('time_since_surgery'), ...compared, threshold: threshold('duration') }),
  z.strictObject({
    kind: z.literal('clinician_observation'),
    ...base,
    comparator: z.literal('is'),
    observation: codesOf('observation'),
    threshold: z.enum(lists.codesOf(lists.OBSERVATIONS)).exclude(['not_assessed']),
    needs: shortText(500).describe('What is to be done when it is missing'),
  }),
])

const content = {
  title: shortText(300),
  citation: shortText(500).describe('Where the criteria come from; for a clinic’s own, say so'),
  population: z.strictObject({
    description: shortText(500),
    sex: z.enum(['female', 'male']).nullable(),
    sportLevels: z.array(shortText(200)).min(1).max(20).nullable(),
    ageYears: z.strictObject({ from: z.number().min(0).max(130), to: z.number().min(0).max(130) }).nullable(),
  }),
  rule: z.discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('all') }),
    z.strictObject({ kind: z.literal('at_least'), count: z.int().min(1).max(50) }),
  ]),
  criteria: z.array(criterion).min(1).max(50),
  limits: shortText(2000).describe('What the source can and cannot tell'),
  fromMemory: shortText(2000).describe('What in this encoding does not come from a text that was read'),
}

type Content = z.output<z.ZodObject<typeof content>>

/** What the shape can't say: each fault with its place. */
function checkContent(set: Content, context: z.core.$RefinementCtx): void {
  set.criteria.forEach((one, index) => {
    const path = ['criteria', index] as const
    if (one.kind === 'functional_symmetry' || one.kind === 'functional_value') {
      const test = lists.FUNCTIONAL_TEST_BY_CODE.get(one.test)
      const sided = test?.sided === 'yes'
      if (one.kind === 'functional_symmetry' && !sided)
        fail(context, [...path, 'test'], 'not_sided', 'This test has no side, so limbs cannot be compared by it.')
      if (one.kind === 'functional_symmetry' && test?.betterWhen !== one.betterWhen)
        fail(context, [...path, 'betterWhen'], 'contradiction', 'The code list says otherwise of this test.')
      if (one.kind === 'functional_value' && sided !== (one.limb === 'involved'))
        fail(context, [...path, 'limb'], 'contradiction', 'A test with sides is read of the involved limb, one without of none.') // prettier-ignore
    }
    if (one.kind === 'clinician_observation') {
      const accepted = lists.FUNCTIONAL_TEST_BY_CODE.get(one.observation)?.observations ?? []
      if (!accepted.includes(one.threshold))
        fail(context, [...path, 'threshold'], 'not_in_list', `Of this it can be observed: ${accepted.join(', ')}.`)
    }
    if (one.kind === 'questionnaire_total') {
      const known = lists.FUNCTIONAL_TEST_BY_CODE.get(one.questionnaire)?.formVersions
      one.formVersions?.forEach((form, at) => {
        if (known !== undefined && !known.includes(form))
          fail(context, [...path, 'formVersions', at], 'not_in_list', `Forms in use: ${known.join(', ')}.`)
      })
    }
  })
  const { ageYears } = set.population
  if (ageYears !== null && ageYears.from > ageYears.to)
    fail(context, ['population', 'ageYears'], 'out_of_order', 'The range ends before it begins.')
  try {
    checkCriteriaSet({ key: 'sent', version: 1, ...set })
  } catch (error) {
    if (!(error instanceof RangeError)) throw error
    fail(context, ['criteria'], 'contradiction', `The set ${error.message.replace('criteria set "sent" ', '')}.`)
  }
}

/** As a clinic sends it: a new key makes version 1, a key of its own the next version. */
export const criteriaSetDocument = z
  .strictObject({ key: wordKey, ...content })
  .superRefine(checkContent)
  .meta({ id: 'CriteriaSetDocument' })

/** As it is kept and shipped. */
export const criteriaSetOfVersion = z
  .strictObject({ key: wordKey, version: z.int().min(1), ...content })
  .superRefine(checkContent)

export const retirementDocument = z.strictObject({ reason: shortText(2000) }).meta({ id: 'RetirementDocument' })

export type CriteriaSetDocument = z.output<typeof criteriaSetDocument>
export type RetirementDocument = z.output<typeof retirementDocument>
