/** Both limbs side by side, session by session: symmetry with its interval, and against the other limb from before. */
import { COMPUTE_VERSION, REFERENCE_DATA_VERSION } from '../../compute/index.ts'
import type { Series } from '../../domain/series.ts'
import type { History } from '../judgement/history.ts'
import { judgePairs, representMeasureAsk, type MeasureAsk } from '../judgement/limb-pairs.ts'
import { representPair } from '../judgement/represent-pair.ts'
import { isComparableEnough, isWithin, type ShownTests } from '../judgement/shown-tests.ts'

/** The setups of the two limbs must match so well. */
export interface SymmetryAsk extends MeasureAsk, ShownTests {
  readonly subjectId: string
  readonly series: Series
  readonly asKnownAt: Date | null
}

export type Symmetry = ReturnType<typeof describeSymmetry>

export function describeSymmetry(history: History, ask: SymmetryAsk) {
  return {
    series: representMeasureAsk(ask),
    involvedSide: history.episode?.involvedSide ?? null,
    confidence: ask.confidence,
    // Filtered once all is judged: the other limb from before surgery counts, whether it is shown or not
    points: judgePairs(history, history.results, ask)
      .filter(({ at, setups }) => isWithin(at, ask) && isComparableEnough(setups.verdict, ask))
      .map((pair) => ({
        sessionId: pair.sessionId,
        at: pair.at,
        ...representPair(pair, ask),
      })),
    computeVersion: COMPUTE_VERSION,
    referenceDataVersion: REFERENCE_DATA_VERSION,
  }
}
