/** How the numbers came to be; shown with every result. */
import { MEASURE_REVISION, type Analysis, type GravityModel } from '../../compute/index.ts'

export function methodDocument(set: {
  readonly analysis: Analysis
  readonly gravity: GravityModel | null
  readonly recordingSha256: string
}) {
  const { analysis } = set
  const { loadRange } = analysis.parameters
  return {
    origin: 'computed',
    gravityCorrected: analysis.gravityCorrected,
    gravityCorrection: analysis.gravityCorrection,
    gravityModel: set.gravity,
    filter:
      analysis.filter === 'none'
        ? { kind: 'none' }
        : {
            kind: analysis.filter.kind,
            orderPerPass: analysis.filter.orderPerPass,
            cutoff: { value: analysis.filter.cutoffHz, unit: 'Hz' },
          },
    loadRange: {
      band: { value: loadRange.bandPercent, unit: '%' },
      minimumRange: { value: loadRange.minimumRangeDeg, unit: 'deg' },
      minimumDuration: { value: loadRange.minimumDurationMs, unit: 'ms' },
    },
    workWindow: analysis.parameters.workWindow,
    velocitySource: analysis.velocitySource,
    recordingSha256: set.recordingSha256,
    measureRevisions: MEASURE_REVISION,
  }
}
