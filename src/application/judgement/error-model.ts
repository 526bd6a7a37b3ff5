import { chooseErrorModel, type ErrorModel, type KnownErrorModel } from '../../compute/index.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { clinicErrorsOf, type History } from './history.ts'
import { testedPerson } from './person.ts'

/** 95 % unless a request says otherwise: the level at which published MDCs are printed. */
export const DEFAULT_CONFIDENCE = 0.95

/** The measurement error of a result's measure for this limb at its date, or why there is none. */
export function errorModelOf(history: History, row: JudgedResultRow, measure: string, confidence: number): ErrorModel {
  const { joint, movement, contractionMode, velocityDegS } = parseSeriesKey(row.series)
  const person = testedPerson(subjectFacts(history), history.episode, row.side, row.startedAt.slice(0, 10))
  const query = { joint, movement, contractionMode, velocityDegS, measure, person }
  const clinics = clinicErrorsOf(history, row.series, measure)
  // The newest of the clinic's own that holds for this limb: a small or other study does not hide an older one that does.
  for (const clinic of clinics) {
    const model = chooseErrorModel(query, clinic, confidence)
    if (model.kind === 'clinic_test_retest') return model
  }
  return chooseErrorModel(query, clinics[0] ?? null, confidence)
}

/** A change leans on two tests: an error that does not hold for one of them does not hold for their difference. */
export function errorModelOfPair(
  history: History,
  earlier: JudgedResultRow,
  later: JudgedResultRow,
  measure: string,
  confidence: number,
): ErrorModel {
  const before = errorModelOf(history, earlier, measure, confidence)
  return before.kind === 'none' ? before : errorModelOf(history, later, measure, confidence)
}

/** In percent of the value, which is what a ratio of two limbs asks for. */
export function limbErrorPercent(model: KnownErrorModel, valueOfLimb: number): number {
  return model.scale === 'percent' ? model.sem : (100 * model.sem) / valueOfLimb
}

function subjectFacts(history: History) {
  const { birthDate } = history.subject.document as { birthDate?: string }
  return { sex: history.subject.sex, birthDate: birthDate ?? null }
}

export function representErrorModel(model: ErrorModel, unit: string) {
  if (model.kind === 'none') return { kind: 'none', reason: model.reason } as const
  const errorUnit = model.scale === 'percent' ? '%' : unit
  return {
    kind: model.kind,
    ...(model.kind === 'clinic_test_retest' ? { pairs: model.n } : { subjects: model.n }),
    standardErrorOfMeasurement: { value: model.sem, unit: errorUnit },
    minimalDetectableChange: { value: model.mdc, unit: errorUnit },
    confidence: model.confidence,
    source: model.source,
    cautions: model.cautions,
  } as const
}
