import type { Series } from '../../domain/series.ts'
import { canonicalValueOf } from '../../domain/quantities.ts'
import type { EpisodeRow } from '../../store/episode-store.ts'

interface NamedMeasure {
  readonly movement: string
  readonly contractionMode: string
  readonly contractionScheme?: string
  readonly velocity: unknown
  readonly measure: string
}

/** Named in advance by the episode; a verdict on anything else is exploratory. */
export function isPrimary(episode: EpisodeRow | null, series: Series, measure: string): boolean {
  const named = (episode?.document as { primaryMeasures?: readonly NamedMeasure[] } | undefined)?.primaryMeasures ?? []
  return named.some(
    (one) =>
      one.measure === measure &&
      one.movement === series.movement &&
      one.contractionMode === series.contractionMode &&
      (one.contractionScheme === undefined || one.contractionScheme === series.contractionScheme) &&
      canonicalValueOf(one.velocity, 'angular_velocity') === series.velocityDegS,
  )
}
