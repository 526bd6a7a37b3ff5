/**
 * Pairs of tests of one measure in one series, the second after setting up anew, one pair a person: what a clinic learns its
 * own measurement error from.
 */
import { z } from 'zod'
import { convert, MEASURE_UNITS, unitKind } from '../compute/index.ts'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { quantityOfAnyKind, unitFault, type Quantity } from './quantities.ts'
import { checkSeries, seriesFields } from './series-document.ts'
import { personReference, recordReference } from './session-document.ts'
import { shortText } from './shapes.ts'

/** The analysis of variance needs a spread of people; more than a thousand pairs is not a clinic's own study. */
const RETEST_PAIRS = { min: 3, max: 1000 } as const

/** In the unit of the measure: far beyond any limb. */
const LARGEST = 1_000_000

export const LIMB_CONDITIONS = ['no_history', 'operated', 'injured', 'osteoarthritis', 'unknown'] as const

export const measurementErrorDocument = z
  .strictObject({
    ...seriesFields,
    measure: z.enum(lists.MEASURES),
    /** absolute: the error is the same at every level. percent: it grows with the value. */
    scale: z.enum(['absolute', 'percent']),
    /** Of the people behind the pairs: an error of healthy limbs is not used for a recently operated one. */
    limbCondition: z.enum(LIMB_CONDITIONS),
    source: shortText(500),
    /** Whose tests, on which machine: then only changes between tests of theirs are judged by it. */
    operator: personReference.optional(),
    dynamometer: recordReference.optional(),
    pairs: z
      .array(z.strictObject({ first: quantityOfAnyKind(), second: quantityOfAnyKind() }))
      .min(RETEST_PAIRS.min)
      .max(RETEST_PAIRS.max),
  })
  .superRefine((document, context) => {
    checkSeries(document, context)
    for (const [index, pair] of document.pairs.entries()) {
      for (const test of ['first', 'second'] as const) checkValue(document, pair[test], ['pairs', index, test], context)
    }
  })
  .meta({ id: 'MeasurementErrorDocument' })

export type MeasurementErrorDocument = z.output<typeof measurementErrorDocument>

function checkValue(
  { measure, scale }: { measure: keyof typeof MEASURE_UNITS; scale: 'absolute' | 'percent' },
  sent: Quantity,
  path: (string | number)[],
  context: z.core.$RefinementCtx,
): void {
  const unit = MEASURE_UNITS[measure]
  const fault = unitFault(sent.unit, unitKind(unit))
  if (fault !== null) {
    // A text that is no unit at all has been refused by the shape
    if (fault.code === 'unit_not_ucum') return
    context.addIssue({ code: 'custom', path: [...path, 'unit'], message: fault.message, params: { fault } })
    return
  }
  const value = convert(sent.value, sent.unit, unit)
  if (!(Math.abs(value) <= LARGEST)) {
    fail(context, [...path, 'value'], 'out_of_range', `The value must lie between -${LARGEST} and ${LARGEST} ${unit}.`)
  } else if (scale === 'percent' && value <= 0) {
    fail(context, [...path, 'value'], 'out_of_range', 'An error in percent needs values above 0.')
  }
}
