import { DEFAULT_PARAMETERS, type AnalysisParameters } from '../../compute/index.ts'
import type { AnalysisChoices } from '../../domain/analysis-choices-document.ts'

/** What was chosen, and the usual choices for the rest. */
export function chooseParameters({
  filter,
  loadRange,
  workWindow,
  torqueAtAngles,
}: AnalysisChoices): AnalysisParameters {
  const usual = DEFAULT_PARAMETERS
  return {
    ...usual,
    filter: filter === undefined ? usual.filter : filterOf(filter),
    loadRange: {
      ...usual.loadRange,
      ...(loadRange?.band === undefined ? {} : { bandPercent: loadRange.band.value }),
      ...(loadRange?.minimumRange === undefined ? {} : { minimumRangeDeg: loadRange.minimumRange.canonicalValue }),
      ...(loadRange?.minimumDuration === undefined
        ? {}
        : { minimumDurationMs: loadRange.minimumDuration.canonicalValue * 1000 }),
    },
    workWindow: workWindow ?? usual.workWindow,
    torqueAtAnglesDeg: torqueAtAngles?.map(({ canonicalValue }) => canonicalValue) ?? usual.torqueAtAnglesDeg,
  }
}

function filterOf(filter: NonNullable<AnalysisChoices['filter']>): AnalysisParameters['filter'] {
  const usual = DEFAULT_PARAMETERS.filter
  if (filter.kind === 'none' || usual.kind === 'none') return { kind: 'none' }
  if (filter.cutoff === undefined) return usual
  const cutoffHz = filter.cutoff.canonicalValue
  return { ...usual, cutoffs: [{ upToDegS: FASTEST_DEG_S, cutoffHz }], isometricCutoffHz: cutoffHz }
}

/** Faster than any machine: the last row serves everything beyond it as well. */
const FASTEST_DEG_S = 500
