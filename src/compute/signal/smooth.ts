import type { AnalysisParameters, DirectionProtocol, Finding } from '../types.ts'
import { designZeroPhaseLowpass, edgePadding, zeroPhaseFilter } from './zero-phase-filter.ts'
import type { LowpassDesign } from './zero-phase-filter.ts'

type Butterworth = Extract<AnalysisParameters['filter'], { kind: 'butterworth_zero_phase' }>

/**
 * The torque cutoff for a set: by the FASTEST set velocity in it, since both directions share one recording.
 *
 * Why by velocity: the best cutoff rises with it, and one cutoff for all hides inertia in fast tests or leaves noise in
 * slow ones (Murray 1986, Med Sci Sports Exerc 18:603-11). Units: Hz. Errors: RangeError for an empty table.
 * Limits: the numbers of the table are an engineering choice inside the usual 6 to 20 Hz.
 * What for: one cutoff for torque of a whole set. Source: Murray 1986 for the principle; the numbers have none.
 *
 * @example cutoffForSet(DEFAULT_PARAMETERS.filter, [{ movement: 'extension', contractionMode: 'isokinetic_concentric', velocityDegS: 60 }]) // 12
 */
export function cutoffForSet(filter: Butterworth, directions: readonly DirectionProtocol[]): number {
  if (directions.every(({ contractionMode }) => contractionMode === 'isometric')) return filter.isometricCutoffHz
  const fastest = Math.max(...directions.map(({ velocityDegS }) => velocityDegS))
  const row = filter.cutoffs.find(({ upToDegS }) => fastest <= upToDegS) ?? filter.cutoffs.at(-1)
  if (row === undefined) throw new RangeError('the cutoff table is empty')
  return row.cutoffHz
}

/**
 * A channel through a zero-phase low-pass, or untouched with a finding where that is not possible (cutoff too near
 * Nyquist, fewer samples than the edges need).
 */
export function smooth(
  signal: Float64Array,
  cutoffHz: number,
  sampleRateHz: number,
  orderPerPass: number,
  what: string,
): { readonly values: Float64Array; readonly design: LowpassDesign | null; readonly findings: readonly Finding[] } {
  const design = designZeroPhaseLowpass(cutoffHz, sampleRateHz, orderPerPass)
  if ('refused' in design || signal.length <= edgePadding(orderPerPass)) {
    const code = 'refused' in design ? design.refused : 'too_few_samples'
    const detail = `The ${what} was not filtered at ${cutoffHz} Hz.`
    return { values: signal, design: null, findings: [{ code, level: 'caution', detail }] }
  }
  return { values: zeroPhaseFilter(signal, design), design, findings: [] }
}
