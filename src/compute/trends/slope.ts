import { mean } from '../numeric/descriptive.ts'
import { fitLine } from '../numeric/least-squares.ts'
import type { ErrorModel } from '../reliability/error-model.ts'
import { requireConfidence, twoSidedCriticalValue } from '../reliability/minimal-detectable-change.ts'
import type { ReasonCode } from '../types.ts'
import { DAYS_PER_MONTH } from './calendar.ts'
import { decisionScaleSem } from './decide-change.ts'
import type { SlopeVerdict, TrendSlope } from './types.ts'
import type { ComparabilityVerdict } from '../comparability/compare-facts.ts'

export interface TrendPoint {
  /** Days, any origin (`calendarDayNumber`). */
  readonly timeDays: number
  readonly value: number
}

export interface SlopeInput {
  /** The points of ONE run, in any order. */
  readonly points: readonly TrendPoint[]
  /** The run's verdict: no line is drawn through points that may not be compared. */
  readonly comparability: ComparabilityVerdict
  readonly errorModel: ErrorModel
  readonly confidence: number
}

const MINIMUM_POINTS = 3

/**
 * Slope of a run of comparable points per month, with its interval and a verdict.
 *
 * What for: the recent pace. Formula in words: ordinary least squares; two standard errors are computed and the LARGER is used: that of
 * the known SEM, root of the sum of (time distance times each point's error) squared over Sxx (SEM / sqrt Sxx for an absolute error), and that of the
 * residuals, residual SD (k - 2) / sqrt Sxx, whose SD is unstable with few points. The interval uses the normal quantile for the first (the SEM taken as
 * known) and t with k - 2 for the second.
 * Verdicts: increased or decreased when the interval leaves out 0, and, for a SEM estimated from a clinic's own pairs, when t with its degrees of freedom
 * still does (else undetermined, `sem_from_few_pairs`). plateau when the interval holds 0 and is at least as narrow over the run as the minimal
 * detectable change of two tests; undetermined when it is wider (`too_scattered`) or no measurement error is known.
 * A percentage error gives each point its own SD: ln(1 + CV/100) times its value.
 * Units: unit of the measure per month of 30.4375 days (UCUM mo). Bad data are null with a reason: `fewer_than_three_comparable_points`,
 * `all_on_one_day`, `not_positive`, the run's verdict. Errors: RangeError for non-finite numbers.
 * Source: any regression text; taking the larger error is an engineering choice. Limits: recovery is concave, so the line describes the past only: it
 * is never extended, and no date is projected. When not to use it: over points of different runs.
 * @example months 3, 4, 5, 6 with 110, 128, 139, 161 N.m and SEM 9.5: 16.4 N.m/mo, standard error 4.2485, 95 % interval 8.07 to 24.73
 */
export function trendSlope(input: SlopeInput): TrendSlope {
  const { points, comparability, errorModel, confidence } = input
  requireConfidence(confidence)
  const none = (reason: ReasonCode): TrendSlope => ({
    perMonth: null,
    reason,
    interval: null,
    verdict: 'undetermined',
    standardError: null,
    standardErrorFrom: null,
    critical: null,
    pointCount: points.length,
    cautions: [],
  })
  if (points.length < MINIMUM_POINTS) return none('fewer_than_three_comparable_points')
  if (comparability === 'not_comparable' || comparability === 'not_assessable') return none(comparability)
  const months = points.map((point) => point.timeDays / DAYS_PER_MONTH)
  const values = points.map((point) => point.value)
  const line = fitLine(months, values)
  if (line === null) return none('all_on_one_day')
  const model = errorModel.kind === 'none' ? null : errorModel
  const percent = model?.scale === 'percent'
  if (percent && values.some((value) => !(value > 0))) return none('not_positive')

  const centre = mean(months)
  const pointError = model === null ? null : decisionScaleSem(model)
  const fromError =
    pointError === null
      ? 0
      : Math.hypot(
          ...points.map((point, i) => ((months[i] as number) - centre) * pointError * (percent ? point.value : 1)),
        ) / line.sxx
  const fromResiduals = Math.sqrt(line.residualSumOfSquares / line.degreesOfFreedom / line.sxx)
  const useError = fromError > 0 && fromError >= fromResiduals
  const standardError = useError ? fromError : fromResiduals
  const degreesOfFreedom = useError ? null : line.degreesOfFreedom
  const critical = twoSidedCriticalValue(confidence, degreesOfFreedom)
  const half = critical * standardError
  const cautious = useError ? twoSidedCriticalValue(confidence, model?.degreesOfFreedom ?? null) * standardError : half

  const span = Math.max(...months) - Math.min(...months)
  const detectable =
    pointError === null
      ? 0
      : twoSidedCriticalValue(confidence, null) * Math.SQRT2 * pointError * (percent ? mean(values) : 1)
  const decided = decideSlope()
  return {
    perMonth: line.slope,
    reason: decided.reason,
    interval: { low: line.slope - half, high: line.slope + half, confidence },
    verdict: decided.verdict,
    standardError,
    standardErrorFrom: useError ? 'measurement_error' : 'residuals',
    critical: { distribution: useError ? 'normal' : 't', degreesOfFreedom, value: critical },
    pointCount: points.length,
    cautions: [
      ...(model === null ? ['no_measurement_error_known'] : model.cautions),
      ...(comparability === 'comparable_with_caution' ? ['comparable_with_caution'] : []),
    ],
  }

  function decideSlope(): { verdict: SlopeVerdict; reason: ReasonCode | null } {
    const slope = (line as { slope: number }).slope
    if (Math.abs(slope) > cautious) return { verdict: slope > 0 ? 'increased' : 'decreased', reason: null }
    if (Math.abs(slope) > half) return { verdict: 'undetermined', reason: 'sem_from_few_pairs' }
    if (model === null) return { verdict: 'undetermined', reason: (errorModel as { reason: ReasonCode }).reason }
    return useError || half * span <= detectable
      ? { verdict: 'plateau', reason: null }
      : { verdict: 'undetermined', reason: 'too_scattered' }
  }
}
