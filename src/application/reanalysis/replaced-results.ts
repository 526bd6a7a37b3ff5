/** Results of a new analysis in the place of those of an old one: the same set, direction by direction. */
import { MEASURE_REVISION, type Analysis, type DirectionAnalysis } from '../../compute/index.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import type { KeyFacts } from '../judgement/facts.ts'
import { measuresDocument, readMeasure, type MeasuresDocument } from '../results/measures-document.ts'

/** The direction of the analysis that an earlier result is of. */
export function directionOf(analysis: Analysis, row: Pick<JudgedResultRow, 'series'>): DirectionAnalysis | null {
  const { movement, contractionMode } = parseSeriesKey(row.series)
  return analysis.directions.find((one) => one.movement === movement && one.contractionMode === contractionMode) ?? null
}

/** The facts of the set stay; what was done to the signal is new. */
export function replacedFacts(old: unknown, analysis: Analysis, paramsHash: string): KeyFacts {
  return {
    ...(old as KeyFacts),
    gravityCorrected: analysis.gravityCorrected === 'unknown' ? null : analysis.gravityCorrected,
    processing: { paramsHash, revisions: MEASURE_REVISION },
  }
}

export interface MovedValue {
  readonly measure: string
  readonly statistic: string
  readonly angleDeg: number | null
  readonly unit: string
  readonly before: number | null
  readonly after: number | null
}

/** Every value that is not the same to the last bit, and every one that came or went. */
export function movedValues(row: Pick<JudgedResultRow, 'measures'>, direction: DirectionAnalysis): MovedValue[] {
  const [before, after] = [row.measures as MeasuresDocument, measuresDocument(direction)]
  return namesOf(before, after).flatMap(({ measure, statistic, angleDeg }) => {
    const [a, b] = [before, after].map((document) => readMeasure(document, measure, statistic, angleDeg ?? undefined))
    return a === undefined || b === undefined || a.value === b.value
      ? []
      : [{ measure, statistic, angleDeg, unit: b.unit, before: a.value, after: b.value }]
  })
}

interface ValueName {
  readonly measure: string
  readonly statistic: string
  readonly angleDeg: number | null
}

function namesOf(...documents: readonly MeasuresDocument[]): readonly ValueName[] {
  const names = documents.flatMap(({ torqueAtAngle = [], ...measures }): ValueName[] => [
    ...Object.entries(measures).flatMap(([measure, statistics]) =>
      Object.keys(statistics).map((statistic) => ({ measure, statistic, angleDeg: null })),
    ),
    ...torqueAtAngle.flatMap(({ angle }) =>
      ['best', 'mean'].map((statistic) => ({ measure: 'torqueAtAngle', statistic, angleDeg: angle.value })),
    ),
  ])
  return [...new Map(names.map((name) => [JSON.stringify(name), name])).values()]
}
