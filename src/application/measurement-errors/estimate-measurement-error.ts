/** All that pairs of tests say of a measure: its error with how well it is known, learning, and relative reliability. */
import {
  convert,
  intraclassCorrelations,
  MEASURE_UNITS,
  MINIMUM_CLINIC_PAIRS,
  minimalDetectableChange,
  percentChangeLimits,
  testRetestError,
  type IccForm,
  type TestRetest,
} from '../../compute/index.ts'
import type { FieldFault } from '../../domain/errors.ts'
import type { MeasurementErrorDocument } from '../../domain/measurement-error-document.ts'
import { DEFAULT_CONFIDENCE } from '../judgement/error-model.ts'

/** As large as the row of the database takes. */
const LARGEST_SEM = 100_000

export interface MeasurementErrorEstimate {
  readonly retest: TestRetest
  /** In the shape in which it is shown and kept. */
  readonly document: ReturnType<typeof describe>
}

export function estimateMeasurementError(
  document: Pick<MeasurementErrorDocument, 'measure' | 'scale' | 'pairs'>,
):
  { readonly ok: true; readonly value: MeasurementErrorEstimate } | { readonly ok: false; readonly fault: FieldFault } {
  const unit = MEASURE_UNITS[document.measure]
  const table = document.pairs.map(({ first, second }) => [
    convert(first.value, first.unit, unit),
    convert(second.value, second.unit, unit),
  ])
  const of = (test: 0 | 1) => table.map((pair) => pair[test] ?? NaN)
  const retest = testRetestError(of(0), of(1), document.scale, DEFAULT_CONFIDENCE)
  if ('reason' in retest)
    return refused(retest.reason, 'An error cannot be estimated from pairs without any difference.')
  if (!(retest.sem <= LARGEST_SEM)) return refused('out_of_range', 'The two tests of the pairs differ beyond any test.')
  return { ok: true, value: { retest, document: describe(retest, table, document.scale === 'percent' ? '%' : unit) } }
}

function refused(code: string, message: string): { ok: false; fault: FieldFault } {
  return { ok: false, fault: { pointer: '#/pairs', code, message } }
}

function describe(retest: TestRetest, table: readonly (readonly number[])[], unit: string) {
  const correlations = intraclassCorrelations(table, DEFAULT_CONFIDENCE)
  return {
    pairs: retest.pairs,
    minimumPairs: MINIMUM_CLINIC_PAIRS,
    standardErrorOfMeasurement: { value: retest.sem, unit, interval: retest.semInterval },
    typicalError: { value: retest.typicalError, unit },
    minimalDetectableChange: { ...detectable(retest, unit), confidence: DEFAULT_CONFIDENCE },
    learningShift: {
      value: retest.meanChange,
      unit,
      pValue: retest.meanChangePValue,
      detected: retest.meanShiftDetected ? ('yes' as const) : ('no' as const),
    },
    intraclassCorrelation:
      'reason' in correlations
        ? { reason: correlations.reason }
        : { forms: ICC_FORMS.map((form) => ({ form, ...correlations.forms[form] })) },
    notes: notesOn(retest),
  }
}

/** A change up and a change down, as well known as the error is: the same in the unit of the measure, not in percent. */
function detectable(retest: TestRetest, unit: string) {
  const { sem, semInterval, scale } = retest
  const { low, high, confidence } = semInterval
  const [smallest, change, largest] = [changesOf(low, scale), changesOf(sem, scale), changesOf(high, scale)]
  return {
    rise: { value: change.rise, unit, interval: { low: smallest.rise, high: largest.rise, confidence } },
    fall: { value: change.fall, unit, interval: { low: largest.fall, high: smallest.fall, confidence } },
  }
}

function changesOf(sem: number, scale: TestRetest['scale']): { rise: number; fall: number } {
  if (scale === 'percent') {
    const { lowPct, highPct } = percentChangeLimits(sem, DEFAULT_CONFIDENCE)
    return { rise: highPct, fall: lowPct }
  }
  const change = minimalDetectableChange(sem, DEFAULT_CONFIDENCE)
  return { rise: change, fall: -change }
}

/** Which form is quoted decides what the number means, so all six are named. */
const ICC_FORMS: readonly IccForm[] = ['ICC(1,1)', 'ICC(2,1)', 'ICC(3,1)', 'ICC(1,k)', 'ICC(2,k)', 'ICC(3,k)']

function notesOn(retest: TestRetest) {
  const few = {
    code: 'clinic_pairs_too_few',
    message: `Kept, and not used to judge changes: that takes ${MINIMUM_CLINIC_PAIRS} pairs.`,
  }
  const shift = {
    code: 'mean_shift_in_retests',
    message: 'Second tests differ from first ones on average: the error holds learning as well as chance.',
  }
  return [...(retest.pairs < MINIMUM_CLINIC_PAIRS ? [few] : []), ...(retest.meanShiftDetected ? [shift] : [])]
}
