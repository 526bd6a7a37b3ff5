import { coefficientOfVariationPct, mean, sum } from '../numeric/descriptive.ts'
import type {
  AnalysisParameters,
  DirectionAnalysis,
  Measured,
  MeasureStatistics,
  ReasonCode,
  RepetitionMeasure,
  RepetitionResult,
  StatValue,
} from '../types.ts'
import { fatigueIndexEdgesPercent, fatigueSlope, workFatigueThirdsPercent } from './fatigue.ts'
import { REPETITION_MEASURES } from './repetition-measures.ts'

/**
 * What is best, and whether a coefficient of variation says anything. `largest`: the repetition with the most of it;
 * `at_best_peak`: the value at the repetition with the highest peak torque, because neither a large nor a small angle or
 * time is better. An angle has no meaningful zero, so it has no coefficient of variation.
 */
const RULES: Readonly<Record<RepetitionMeasure, { best: 'largest' | 'at_best_peak'; variation: boolean }>> = {
  peakTorque: { best: 'largest', variation: true },
  angleOfPeakTorque: { best: 'at_best_peak', variation: false },
  workPerRepetition: { best: 'largest', variation: true },
  averagePower: { best: 'largest', variation: true },
  peakPower: { best: 'largest', variation: true },
  timeToPeakTorque: { best: 'at_best_peak', variation: true },
  rateOfTorqueDevelopment: { best: 'largest', variation: true },
  impulse: { best: 'largest', variation: true },
  rangeOfMotion: { best: 'largest', variation: true },
  loadRange: { best: 'largest', variation: true },
  loadRangeDuration: { best: 'largest', variation: true },
  peakTorquePerBodyMass: { best: 'largest', variation: false },
  workPerBodyMass: { best: 'largest', variation: false },
  averagePowerPerBodyMass: { best: 'largest', variation: false },
  isometricPlateauTorque: { best: 'largest', variation: true },
}

/**
 * Best, mean and coefficient of variation over the counted repetitions, and the indices of the whole set.
 *
 * Every number carries n, the repetitions it rests on, because the best of five is not the best of three. The
 * coefficient of variation (sample SD, n - 1) is a hint to repeat a set, never a verdict on effort: no cutoff tells an
 * honest effort from another (MacDermid and colleagues, 31 men).
 */
export function setStatistics(
  repetitions: readonly RepetitionResult[],
  parameters: AnalysisParameters,
): Pick<DirectionAnalysis, 'measures' | 'torqueAtAngle'> {
  const counted = repetitions.filter((repetition) => repetition.counted === 'yes')
  const empty = whyNothingCounts(repetitions)
  const bestPeak = largest(counted, (repetition) => repetition.measures.peakTorque)

  const perMeasure = REPETITION_MEASURES.map((name): [string, MeasureStatistics] => {
    const of = (repetition: RepetitionResult) => repetition.measures[name]
    const missing = counted[0] === undefined ? empty : (whyMissing(counted, of) ?? empty)
    const values = counted.map((repetition) => of(repetition).value).filter((value) => value !== null)
    const best = RULES[name].best === 'largest' ? largest(counted, of) : atRepetition(counted, bestPeak?.repetition, of)
    return [
      name,
      {
        best: best ?? { value: null, reason: missing },
        mean: overAll(values, missing, mean),
        ...(RULES[name].variation ? { coefficientOfVariation: variation(values, missing) } : {}),
      },
    ]
  })

  return {
    measures: {
      ...(Object.fromEntries(perMeasure) as Record<RepetitionMeasure, MeasureStatistics>),
      ...wholeSet(counted, parameters, empty),
    },
    torqueAtAngle: parameters.torqueAtAnglesDeg.map((angleDeg) => {
      const of = (repetition: RepetitionResult): Measured =>
        repetition.torqueAtAngle.find((row) => row.angleDeg === angleDeg)?.torque ?? {
          value: null,
          reason: 'isokinetic_only',
        }
      const missing = counted[0] === undefined ? empty : (whyMissing(counted, of) ?? empty)
      const values = counted.map((repetition) => of(repetition).value).filter((value) => value !== null)
      return {
        angleDeg,
        best: largest(counted, of) ?? { value: null, reason: missing },
        mean: overAll(values, missing, mean),
      }
    }),
  }
}

function wholeSet(counted: readonly RepetitionResult[], parameters: AnalysisParameters, empty: ReasonCode) {
  const work = counted.map((repetition) => repetition.measures.workPerRepetition)
  const workValues = work.map(({ value }) => value).filter((value) => value !== null)
  const whyNoWork = whyMissing(counted, (repetition) => repetition.measures.workPerRepetition)
  const peaks = counted.map((repetition) => repetition.measures.peakTorque)
  const peakValues = peaks.map(({ value }) => value).filter((value) => value !== null)
  const whyNoPeak = whyMissing(counted, (repetition) => repetition.measures.peakTorque)
  const { edgeRepetitions, minimumRepetitions } = parameters.fatigue

  const index = (
    values: readonly number[],
    why: ReasonCode | null,
    compute: (values: readonly number[]) => number | null,
  ): { total: StatValue } => {
    // One hole would shift every later repetition's place in the set.
    if (values.length < counted.length || counted.length === 0) return { total: { value: null, reason: why ?? empty } }
    const value = values.length < minimumRepetitions ? null : compute(values)
    if (value === null) return { total: { value: null, reason: 'too_few_repetitions', n: values.length } }
    return { total: { value, n: values.length } }
  }
  const totalWork: StatValue =
    counted.length > 0 && workValues.length === counted.length
      ? { value: sum(workValues), n: workValues.length }
      : { value: null, reason: whyNoWork ?? empty }
  return {
    totalWork: { total: totalWork },
    fatigueIndexEdges: index(peakValues, whyNoPeak, (values) => fatigueIndexEdgesPercent(values, edgeRepetitions)),
    workFatigueThirds: index(workValues, whyNoWork, workFatigueThirdsPercent),
    fatigueSlope: index(peakValues, whyNoPeak, (values) =>
      fatigueSlope(
        counted.map(({ repetition }) => repetition),
        values,
      ),
    ),
  }
}

/** n is how many the best was chosen from. */
function largest(
  repetitions: readonly RepetitionResult[],
  of: (repetition: RepetitionResult) => Measured,
): StatValue | null {
  let best: { value: number; repetition: number } | null = null
  let n = 0
  for (const repetition of repetitions) {
    const { value } = of(repetition)
    if (value === null) continue
    n += 1
    if (best === null || value > best.value) best = { value, repetition: repetition.repetition }
  }
  return best === null ? null : { ...best, n }
}

function atRepetition(
  repetitions: readonly RepetitionResult[],
  number: number | undefined,
  of: (repetition: RepetitionResult) => Measured,
): StatValue | null {
  const found = repetitions.find(({ repetition }) => repetition === number)
  const value = found === undefined ? null : of(found).value
  return found === undefined || value === null ? null : { value, repetition: found.repetition, n: repetitions.length }
}

function overAll(
  values: readonly number[],
  missing: ReasonCode,
  statistic: (values: readonly number[]) => number,
): StatValue {
  return values.length === 0 ? { value: null, reason: missing } : { value: statistic(values), n: values.length }
}

function variation(values: readonly number[], missing: ReasonCode): StatValue {
  if (values.length === 0) return { value: null, reason: missing }
  const percent = values.length < 2 ? null : coefficientOfVariationPct(values)
  if (percent === null) return { value: null, reason: 'too_few_repetitions', n: values.length }
  return { value: percent, n: values.length }
}

function whyMissing(
  repetitions: readonly RepetitionResult[],
  of: (repetition: RepetitionResult) => Measured,
): ReasonCode | null {
  for (const repetition of repetitions) {
    const measured = of(repetition)
    if (measured.value === null) return measured.reason
  }
  return null
}

function whyNothingCounts(repetitions: readonly RepetitionResult[]): ReasonCode {
  const reasons = new Set(repetitions.map(({ reason }) => reason))
  if (reasons.size === 0) return 'no_repetition_found'
  const [only] = reasons
  return reasons.size === 1 && only !== null && only !== undefined ? only : 'no_counted_repetition'
}
