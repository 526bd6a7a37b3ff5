import {
  chooseErrorModel,
  narrowestFirst,
  type ErrorModel,
  type ErrorScope,
  type KnownErrorModel,
} from '../../compute/index.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import type { KeyFacts, VisitFacts } from './facts.ts'
import { clinicErrorsOf, type History } from './history.ts'
import { testedPerson } from './person.ts'

/** 95 % unless a request says otherwise: the level at which published MDCs are printed. */
export const DEFAULT_CONFIDENCE = 0.95

/** A model with whose tests it rests on, where it is the clinic's own. */
export type ScopedErrorModel = ErrorModel & { readonly scope?: ErrorScope }

/** The measurement error of a result's measure for this limb at its date, or why there is none. */
export function errorModelOf(
  history: History,
  row: JudgedResultRow,
  measure: string,
  confidence: number,
  test: ErrorScope = testOf(row),
): ScopedErrorModel {
  const { joint, movement, contractionMode, velocityDegS } = parseSeriesKey(row.series)
  const person = testedPerson(subjectFacts(history), history.episode, row.side, row.startedAt.slice(0, 10))
  const query = { joint, movement, contractionMode, velocityDegS, measure, person }
  const clinics = narrowestFirst(clinicErrorsOf(history, row.series, measure), test)
  // The narrowest and newest of the clinic's own that holds for this limb: a small study does not hide a wider or older one.
  for (const clinic of clinics) {
    const model = chooseErrorModel(query, clinic, confidence)
    if (model.kind !== 'clinic_test_retest') continue
    return { ...model, scope: { operatorId: clinic.operatorId, dynamometerId: clinic.dynamometerId } }
  }
  return chooseErrorModel(query, clinics[0] ?? null, confidence)
}

/**
 * A change leans on two tests: an error that does not hold for one of them does not hold for their difference, and an error of
 * one operator or machine holds only where both are theirs.
 */
export function errorModelOfPair(
  history: History,
  earlier: JudgedResultRow,
  later: JudgedResultRow,
  measure: string,
  confidence: number,
): ScopedErrorModel {
  return errorModelOfTests(history, [earlier, later], measure, confidence)
}

/** As of a pair, over a whole run: oldest first, at least one. */
export function errorModelOfTests(
  history: History,
  rows: readonly JudgedResultRow[],
  measure: string,
  confidence: number,
): ScopedErrorModel {
  const [first, last] = [rows[0], rows.at(-1)]
  if (first === undefined || last === undefined) return { kind: 'none', reason: 'no_test' }
  const tests = rows.map(testOf)
  const shared = {
    operatorId: common(tests.map(({ operatorId }) => operatorId)),
    dynamometerId: common(tests.map(({ dynamometerId }) => dynamometerId)),
  }
  const before = errorModelOf(history, first, measure, confidence, shared)
  return before.kind === 'none' ? before : errorModelOf(history, last, measure, confidence, shared)
}

/** Who tested, on which machine; null: not recorded. */
export function testOf(row: JudgedResultRow): ErrorScope {
  return {
    operatorId: (row.visitFacts as VisitFacts).operator,
    dynamometerId: (row.keyFacts as KeyFacts).dynamometerId,
  }
}

/** The one value that all have; null where they differ or one has none. */
export const common = (values: readonly (string | null)[]): string | null =>
  values.every((value) => value === values[0]) ? (values[0] ?? null) : null

/** In percent of the value, which is what a ratio of two limbs asks for. */
export function limbErrorPercent(model: KnownErrorModel, valueOfLimb: number): number {
  return model.scale === 'percent' ? model.sem : (100 * model.sem) / valueOfLimb
}

function subjectFacts(history: History) {
  const { birthDate } = history.subject.document as { birthDate?: string }
  return { sex: history.subject.sex, birthDate: birthDate ?? null }
}

export function representErrorModel(model: ScopedErrorModel, unit: string) {
  if (model.kind === 'none') return { kind: 'none', reason: model.reason } as const
  const errorUnit = model.scale === 'percent' ? '%' : unit
  return {
    kind: model.kind,
    ...(model.kind === 'clinic_test_retest' ? { pairs: model.n } : { subjects: model.n }),
    ...representScope(model.scope),
    standardErrorOfMeasurement: { value: model.sem, unit: errorUnit },
    minimalDetectableChange: { value: model.mdc, unit: errorUnit },
    confidence: model.confidence,
    source: model.source,
    cautions: model.cautions,
  } as const
}

/** By which error a verdict was given: whose it is, and where it comes from. */
export function nameErrorModel(model: ScopedErrorModel) {
  if (model.kind === 'none') return { kind: 'none', reason: model.reason } as const
  return { kind: model.kind, ...representScope(model.scope), source: model.source } as const
}

/** Nothing where the error is a published one. */
export function representScope(scope: ErrorScope | undefined) {
  if (scope === undefined) return {}
  const { operatorId, dynamometerId } = scope
  const one = [operatorId === null ? null : 'operator', dynamometerId === null ? null : 'dynamometer']
  const words = one.filter((word) => word !== null).join('_and_')
  return {
    scope: (words === '' ? 'clinic' : words) as 'clinic' | 'operator' | 'dynamometer' | 'operator_and_dynamometer',
    ...(operatorId === null ? {} : { operatorId }),
    ...(dynamometerId === null ? {} : { dynamometerId }),
  }
}
