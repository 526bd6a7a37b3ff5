import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { shortText } from './shapes.ts'

type ObservedTest = Extract<(typeof lists.FUNCTIONAL_TESTS)[number], { form: 'observation' }>['code']

const observed = lists.FUNCTIONAL_TESTS.filter((test) => test.form === 'observation').map((test) => test.code)

/** What no measurement can answer: a clinician's word on it, on a date. */
export const observationDocument = z
  .strictObject({
    key: z.enum(observed as [ObservedTest, ...ObservedTest[]]),
    value: z.enum(lists.codesOf(lists.OBSERVATIONS)),
    observedOn: z.iso.date(),
    note: shortText(2000).optional(),
  })
  .superRefine(({ key, value }, context) => {
    const accepted = lists.FUNCTIONAL_TEST_BY_CODE.get(key)?.observations ?? []
    if (!accepted.includes(value)) {
      fail(context, ['value'], 'not_in_list', `Of ${key} it can be observed: ${accepted.join(', ')}.`)
    }
  })
  .meta({ id: 'ObservationDocument' })

export type ObservationDocument = z.output<typeof observationDocument>
