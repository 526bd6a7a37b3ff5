import { deficitInterval } from '../../compute/index.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import { representReasons } from './represent-comparability.ts'
import type { JudgedPair, MeasureAsk } from './limb-pairs.ts'

/** Symmetry as documents show it: the index with its interval or its reason, direction apart from magnitude. */
export function representPair(pair: JudgedPair, ask: MeasureAsk) {
  const { symmetry, interval, preInjury } = pair
  const row = pair.left ?? pair.right
  const series = row === null ? null : parseSeriesKey(row.series)
  const index = symmetry.limbSymmetryIndexPct
  return {
    ...(series === null
      ? {}
      : {
          joint: series.joint,
          movement: series.movement,
          contractionMode: series.contractionMode,
          velocity: { value: series.velocityDegS, unit: 'deg/s' },
        }),
    measure: ask.measure,
    statistic: ask.statistic,
    left: valueOf(pair.leftValue, pair.unit, pair.left?.id),
    right: valueOf(pair.rightValue, pair.unit, pair.right?.id),
    limbSymmetryIndex: {
      ...percent(index),
      ...(interval === null ? {} : { interval }),
      ...(pair.intervalReason === null ? {} : { intervalReason: pair.intervalReason }),
    },
    deficit: { ...percent(symmetry.deficitPct), ...(interval === null ? {} : { interval: deficitInterval(interval) }) },
    weakerSide: symmetry.weakerSide,
    estimatedPreInjuryCapacity: {
      ...percent(preInjury.estimatedPreInjuryCapacityPct),
      ...(preInjury.referenceResultId === null ? {} : { referenceResultId: preInjury.referenceResultId }),
      ...(preInjury.testedWhen === null ? {} : { testedWhen: preInjury.testedWhen }),
      cautions: preInjury.cautions,
    },
    setupsMatch: pair.setups.verdict,
    reasons: representReasons(pair.setups.reasons),
    cautions: symmetry.cautions,
  }
}

type Measured = { readonly value: number } | { readonly value: null; readonly reason: string }

const percent = (measured: Measured) => ({ ...measured, unit: '%' as const })

const valueOf = (measured: Measured, unit: string, resultId: string | undefined) => ({
  ...measured,
  unit,
  ...(resultId === undefined ? {} : { resultId }),
})
