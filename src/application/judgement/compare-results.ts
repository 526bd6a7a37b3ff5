/** One result against another, measure by measure: what an EHR shows beside a new visit. */
import {
  COMPARED_MEASURES,
  compareFacts,
  compareLimbs,
  type Comparability,
  type ComparabilityReason,
  type ComparabilityRule,
  type ComparabilityVerdict,
  type ComparedMeasure,
} from '../../compute/index.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import type { MeasuresDocument } from '../results/measures-document.ts'
import { factsOf } from './facts.ts'

export interface ResultComparison {
  readonly verdicts: Readonly<Partial<Record<ComparedMeasure, ComparabilityVerdict>>>
  /** Every reason of any measure once, gravest first. */
  readonly reasons: readonly ComparabilityReason[]
}

/** Verdicts for the measures that both results have. */
export function compareResults(
  before: JudgedResultRow,
  now: JudgedResultRow,
  rules: readonly ComparabilityRule[],
): ResultComparison {
  return collect(compareSharedMeasures(before, now, rules))
}

/** Verdicts side by side, reasons together. */
export function collect(judged: readonly (Comparability & { readonly measure: ComparedMeasure })[]): ResultComparison {
  const reasons = new Map<string, ComparabilityReason>()
  for (const { reasons: found } of judged) {
    for (const reason of found) {
      const known = reasons.get(reason.factor)
      if (known === undefined || GRAVITY.indexOf(reason.effect) > GRAVITY.indexOf(known.effect)) reasons.set(reason.factor, reason) // prettier-ignore
    }
  }
  return {
    verdicts: Object.fromEntries(judged.map(({ measure, verdict }) => [measure, verdict])),
    reasons: [...reasons.values()].sort((a, b) => GRAVITY.indexOf(b.effect) - GRAVITY.indexOf(a.effect)),
  }
}

/** Each measure with its own reasons. */
export function compareSharedMeasures(
  before: JudgedResultRow,
  now: JudgedResultRow,
  rules: readonly ComparabilityRule[],
): (Comparability & { readonly measure: ComparedMeasure })[] {
  return COMPARED_MEASURES.filter((measure) => hasMeasure(before, measure) && hasMeasure(now, measure)).map(
    (measure) => ({ measure, ...compareMeasure(before, now, measure, rules) }),
  )
}

/** Of one limb, or of two: then one setup is mirrored before it is held against the other. */
export function compareMeasure(
  before: JudgedResultRow,
  now: JudgedResultRow,
  measure: ComparedMeasure,
  rules: readonly ComparabilityRule[],
): Comparability {
  const [a, b] = [factsOf(before, measure), factsOf(now, measure)]
  return a.side === b.side ? compareFacts(a, b, measure, rules) : compareLimbs(a, b, measure, rules)
}

const GRAVITY = ['note', 'caution', 'not_assessable', 'not_comparable']

export function hasMeasure(row: JudgedResultRow, measure: ComparedMeasure): boolean {
  const measures = row.measures as MeasuresDocument
  if (measure === 'torqueAtAngle') return (measures.torqueAtAngle ?? []).some((angle) => angle.best.value !== null)
  if (measure === 'strengthRatio') return false
  return Object.values(measures[measure] ?? {}).some((value) => value?.value !== null && value?.value !== undefined)
}
