import { parseSeriesKey, representSeries } from '../../domain/series.ts'
import type { FlagRow } from '../../store/flag-store.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { holdOn } from '../judgement/history.ts'

interface StoredRepetitions {
  readonly counted: number | null
  readonly notCounted: readonly { readonly repetition: number; readonly reason: string }[]
}

/** A result as documents show it. `held` while a hold flag stands; `superseded` once an amendment replaced it. */
export function representResult(row: JudgedResultRow, flags: readonly FlagRow[], knownAt: Date) {
  const { counted, notCounted } = row.repetitions as StoredRepetitions
  const held = holdOn({ flags, knownAt }, row) !== null
  return {
    id: row.id,
    set: row.setKey,
    side: row.side,
    ...representSeries(parseSeriesKey(row.series)),
    origin: row.origin,
    state: row.isCurrent ? (held ? 'held' : 'final') : 'superseded',
    measures: row.measures as Record<string, unknown>,
    repetitions: { counted, notCounted },
    method: row.method as Record<string, unknown>,
    computeVersion: row.computeVersion,
  }
}

export type ResultRepresentation = ReturnType<typeof representResult>
