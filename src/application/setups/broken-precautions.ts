/** Does a test, planned or done, go beyond a precaution of the episode? Set by the surgeon or the clinic, never by us. */
import { calendarDayNumber, type ContractionMode, type Movement } from '../../compute/index.ts'
import { episodeDocument, type EpisodeDocument } from '../../domain/episode-document.ts'
import type { SetupDocument } from '../../domain/session-document.ts'
import type { EpisodeRow } from '../../store/episode-store.ts'

export type Precaution = EpisodeDocument['precautions'][number]

export interface LimbTest {
  readonly side: 'left' | 'right'
  readonly directions: readonly { readonly movement: Movement; readonly contractionMode: ContractionMode }[]
  readonly stops: SetupDocument['stops']
  /** Of a test that was done nobody can say more than the record; a plan without stops would run into a limit unseen. */
  readonly withoutStops: 'tolerated' | 'breaks_range_limits'
}

export function precautionsOf(episode: EpisodeRow | null): readonly Precaution[] {
  return episode === null ? [] : episodeDocument.parse(episode.document).precautions
}

/** On a date; negative before the operation, null without one. */
export function weeksSinceSurgery(episode: EpisodeRow | null, on: string): number | null {
  const surgeryOn = episode?.surgeryOn ?? null
  return surgeryOn === null ? null : (calendarDayNumber(on) - calendarDayNumber(surgeryOn)) / 7
}

/** Precautions speak of the involved limb, or of both where both are involved. */
export function isGuarded(episode: EpisodeRow | null, side: 'left' | 'right'): boolean {
  return episode !== null && (episode.involvedSide === 'bilateral' || episode.involvedSide === side)
}

export function brokenPrecautions(episode: EpisodeRow | null, test: LimbTest, on: string): readonly Precaution[] {
  if (!isGuarded(episode, test.side)) return []
  const weeks = weeksSinceSurgery(episode, on)
  return precautionsOf(episode).filter((precaution) =>
    test.directions.some((direction) => breaks(precaution, direction, test, weeks)),
  )
}

function breaks(
  precaution: Precaution,
  direction: LimbTest['directions'][number],
  { stops, withoutStops }: LimbTest,
  weeks: number | null,
): boolean {
  if (precaution.movement !== undefined && precaution.movement !== direction.movement) return false
  switch (precaution.kind) {
    case 'earliest_week': {
      const speaksOf =
        precaution.contractionMode === undefined || precaution.contractionMode === direction.contractionMode
      return speaksOf && weeks !== null && weeks >= 0 && weeks < precaution.week
    }
    case 'contraction_mode_excluded':
      return precaution.contractionMode === direction.contractionMode && isInForce(precaution, weeks)
    case 'range_limit': {
      if (!isInForce(precaution, weeks)) return false
      const angles = Object.values(stops ?? {}).flatMap((stop) => stop?.canonicalValue ?? [])
      if (angles.length < 2 && withoutStops === 'breaks_range_limits') return true
      return angles.some((stop) => stop < precaution.lowest.canonicalValue || stop > precaution.highest.canonicalValue)
    }
  }
}

/** Without a date of surgery a precaution with an end is taken to hold still. */
export function isInForce(precaution: Precaution, weeks: number | null): boolean {
  if (precaution.kind === 'earliest_week') return weeks !== null && weeks >= 0 && weeks < precaution.week
  const { untilWeek } = precaution
  return untilWeek === undefined || weeks === null || weeks < untilWeek
}

export function inWords(precaution: Precaution): string {
  const movement = precaution.movement?.replaceAll('_', ' ') ?? 'any movement'
  switch (precaution.kind) {
    case 'earliest_week':
      return `${(precaution.contractionMode ?? 'any test').replaceAll('_', ' ')}, ${movement}: not before week ${precaution.week} after surgery`
    case 'contraction_mode_excluded':
      return `${precaution.contractionMode.replaceAll('_', ' ')}, ${movement}: not to be tested${untilWords(precaution.untilWeek)}`
    case 'range_limit':
      return `${movement}: between ${precaution.lowest.canonicalValue} and ${precaution.highest.canonicalValue} deg only${untilWords(precaution.untilWeek)}`
  }
}

const untilWords = (week: number | undefined): string => (week === undefined ? '' : ` until week ${week} after surgery`)
