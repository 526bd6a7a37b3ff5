import { fQuantile } from '../numeric/distributions.ts'
import { mean, sum } from '../numeric/descriptive.ts'
import type { ReasonCode } from '../types.ts'

/** Names of Shrout & Fleiss: model 1 one-way, 2 two-way random, 3 two-way mixed; single rating or mean of k. */
export type IccForm = 'ICC(1,1)' | 'ICC(2,1)' | 'ICC(3,1)' | 'ICC(1,k)' | 'ICC(2,k)' | 'ICC(3,k)'

export interface IccValue {
  readonly value: number
  /** null with a reason where the data leave no residual variance to build an interval from. */
  readonly interval: { readonly low: number; readonly high: number; readonly confidence: number } | null
}

export interface IntraclassCorrelations {
  readonly subjects: number
  readonly trials: number
  readonly meanSquares: {
    readonly betweenSubjects: number
    readonly withinSubjects: number
    readonly betweenTrials: number
    readonly residual: number
  }
  readonly forms: Readonly<Record<IccForm, IccValue>>
  /** sqrt of the within-subjects mean square: random error and shift between trials together. */
  readonly semAgreement: number
  /** sqrt of the residual mean square: random error alone (equals the typical error of two trials). */
  readonly semConsistency: number
}

/**
 * Intraclass correlations of a table of subjects (rows) by trials (columns): all six forms with intervals, and both SEMs.
 *
 * What for: relative reliability, and the SEM from the analysis of variance, which does not depend on how different the
 * subjects happened to be. The six forms of the same table can differ fourfold, so a coefficient is never quoted without
 * its form. Formulas in words: ratios of mean squares as in Shrout & Fleiss 1979, Psychol Bull 86:420-8; intervals from F
 * there and in McGraw & Wong 1996, Psychol Methods 1:30-46, ICC(2,.) with Satterthwaite degrees of freedom.
 * Conventions: two-sided interval; a negative estimate is kept, not set to 0. SEM = sqrt(mean square error), preferred over
 * SD * sqrt(1 - ICC) (Weir 2005, J Strength Cond Res 19:231-40). Units: ICC none, SEM that of the data.
 * Bad data are a reason: `too_few_subjects_or_trials`, `no_variance_between_subjects`. Errors: RangeError for ragged or
 * non-finite tables or a confidence outside (0, 1).
 * When not to use it: as agreement between two machines (limitsOfAgreement), or for rows that are repetitions of one person.
 * Source: Shrout & Fleiss 1979, Psychol Bull 86:420-8; McGraw & Wong 1996, Psychol Methods 1:30-46.
 * @example
 * intraclassCorrelations([[9,2,5,8],[6,1,3,2],[8,4,6,8],[7,1,2,6],[10,5,6,9],[6,2,4,7]], 0.95)
 * // forms['ICC(2,1)'].value 0.289764, forms['ICC(3,1)'].value 0.714841, semAgreement 2.502776
 */
export function intraclassCorrelations(
  table: readonly (readonly number[])[],
  confidence: number,
): IntraclassCorrelations | { readonly reason: ReasonCode } {
  if (!(confidence > 0 && confidence < 1)) throw new RangeError('confidence lies between 0 and 1')
  const n = table.length
  const k = table[0]?.length ?? 0
  if (table.some((row) => row.length !== k)) throw new RangeError('every subject needs the same number of trials')
  if (n < 2 || k < 2) return { reason: 'too_few_subjects_or_trials' }
  const grand = mean(table.flat())
  const rowMeans = table.map((row) => mean(row))
  const columnMeans = Array.from({ length: k }, (_, j) => mean(table.map((row) => row[j] as number)))
  const squares = (values: readonly number[]): number => sum(values.map((value) => value * value))
  const betweenSubjects = (k * squares(rowMeans.map((value) => value - grand))) / (n - 1)
  const betweenTrials = (n * squares(columnMeans.map((value) => value - grand))) / (k - 1)
  const within = table.flatMap((row, i) => row.map((value) => value - (rowMeans[i] as number)))
  const withinSubjects = squares(within) / (n * (k - 1))
  const left = table.flatMap((row, i) =>
    row.map((value, j) => value - (rowMeans[i] as number) - (columnMeans[j] as number) + grand),
  )
  const residual = squares(left) / ((n - 1) * (k - 1))
  if (!(betweenSubjects > 0)) return { reason: 'no_variance_between_subjects' }

  const tail = 1 - (1 - confidence) / 2
  const bounded = (value: number, ends: readonly [number, number] | null): IccValue => ({
    value,
    interval: ends?.every(Number.isFinite) ? { low: ends[0], high: ends[1], confidence } : null,
  })
  /** Interval of one-way and mixed forms, from the F ratio of subjects against error. */
  const ends = (
    error: number,
    errorDegrees: number,
  ): { single: [number, number]; average: [number, number] } | null => {
    if (!(error > 0)) return null
    const ratio = betweenSubjects / error
    const low = ratio / fQuantile(tail, n - 1, errorDegrees)
    const high = ratio * fQuantile(tail, errorDegrees, n - 1)
    return {
      single: [(low - 1) / (low + k - 1), (high - 1) / (high + k - 1)],
      average: [1 - 1 / low, 1 - 1 / high],
    }
  }
  const oneWay = ends(withinSubjects, n * (k - 1))
  const mixed = ends(residual, (n - 1) * (k - 1))
  const single2 =
    (betweenSubjects - residual) / (betweenSubjects + (k - 1) * residual + (k * (betweenTrials - residual)) / n)
  const random = residual > 0 ? twoWayRandomEnds(betweenSubjects, betweenTrials, residual, n, k, single2, tail) : null
  const stepUp = (value: number): number => (k * value) / (1 + (k - 1) * value)
  return {
    subjects: n,
    trials: k,
    meanSquares: { betweenSubjects, withinSubjects, betweenTrials, residual },
    forms: {
      'ICC(1,1)': bounded(
        (betweenSubjects - withinSubjects) / (betweenSubjects + (k - 1) * withinSubjects),
        oneWay?.single ?? null,
      ),
      'ICC(2,1)': bounded(single2, random),
      'ICC(3,1)': bounded((betweenSubjects - residual) / (betweenSubjects + (k - 1) * residual), mixed?.single ?? null),
      'ICC(1,k)': bounded((betweenSubjects - withinSubjects) / betweenSubjects, oneWay?.average ?? null),
      'ICC(2,k)': bounded(
        (betweenSubjects - residual) / (betweenSubjects + (betweenTrials - residual) / n),
        random === null ? null : [stepUp(random[0]), stepUp(random[1])],
      ),
      'ICC(3,k)': bounded((betweenSubjects - residual) / betweenSubjects, mixed?.average ?? null),
    },
    semAgreement: Math.sqrt(withinSubjects),
    semConsistency: Math.sqrt(residual),
  }
}

/** Interval of ICC(2,1): the error is a mixture of two mean squares, its degrees of freedom are Satterthwaite's. */
function twoWayRandomEnds(
  betweenSubjects: number,
  betweenTrials: number,
  residual: number,
  n: number,
  k: number,
  icc: number,
  tail: number,
): [number, number] | null {
  const ratio = betweenTrials / residual
  const numerator = k * icc * ratio + n * (1 + (k - 1) * icc) - k * icc
  const degrees =
    ((k - 1) * (n - 1) * numerator ** 2) / ((n - 1) * (k * icc * ratio) ** 2 + (n * (1 + (k - 1) * icc) - k * icc) ** 2)
  // The error's weights can cancel for a strongly negative coefficient: there is no interval then.
  if (!(degrees > 0)) return null
  const mixture = k * betweenTrials + (k * n - k - n) * residual
  const lowF = fQuantile(tail, n - 1, degrees)
  const highF = fQuantile(tail, degrees, n - 1)
  return [
    (n * (betweenSubjects - lowF * residual)) / (lowF * mixture + n * betweenSubjects),
    (n * (highF * betweenSubjects - residual)) / (mixture + n * highF * betweenSubjects),
  ]
}
