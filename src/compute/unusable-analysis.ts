import type { correctionFor } from './gravity/gravity-model.ts'
import { setStatistics } from './measures/set-statistics.ts'
import type { Analysis, Protocol, ReasonCode, StatValue } from './types.ts'
import { COMPUTE_VERSION } from './version.ts'

/** The analysis of a recording that can't be used: no repetitions, a hold, and the reason on every measure. */
export function unusableAnalysis(
  reason: ReasonCode,
  gravity: ReturnType<typeof correctionFor>,
  protocol: Protocol,
): Analysis {
  const missing: StatValue = { value: null, reason }
  const { measures, torqueAtAngle } = setStatistics([], protocol.parameters)
  const withReason = Object.fromEntries(
    Object.entries(measures).map(([name, statistics]) => [
      name,
      Object.fromEntries(Object.keys(statistics).map((statistic) => [statistic, missing])),
    ]),
  )
  return {
    directions: protocol.directions.map((direction) => ({
      ...direction,
      repetitions: [],
      counted: 0,
      notCounted: [],
      measures: withReason,
      torqueAtAngle: torqueAtAngle.map(({ angleDeg }) => ({ angleDeg, best: missing, mean: missing })),
    })),
    findings: [{ code: reason, level: 'hold', detail: 'The recording cannot be analysed.' }],
    gravityCorrected: gravity.corrected,
    gravityCorrection: gravity.name,
    filter: 'none',
    sampleRateHz: null,
    resampled: false,
    velocitySource: 'derived_from_angle',
    parameters: protocol.parameters,
    computeVersion: COMPUTE_VERSION,
  }
}
