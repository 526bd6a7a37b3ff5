/** Does a test, planned or done, go beyond a precaution of the episode? Set by the surgeon or the clinic, never by us. */
import { calendarDayNumber, movementPair, type ContractionMode, type Movement, type Side } from '../../compute/index.ts'
import { precautionsOnRecord, type EpisodeDocument } from '../../domain/episode-document.ts'
import type { SetupDocument } from '../../domain/session-document.ts'
import type { EpisodeRow } from '../../store/episode-store.ts'
import { otherSide } from './mirror-setup.ts'

export type Precaution = EpisodeDocument['precautions'][number]

export interface LimbTest {
  readonly side: Side
  readonly directions: readonly {
    readonly movement: Movement
    readonly contractionMode: ContractionMode
    /** Of a test that was done: where the limb is known to have been under load. */
    readonly anglesDeg?: readonly number[]
  }[]
  readonly stops: SetupDocument['stops']
  /** Of a test that was done nobody can say more than the record; a plan without stops would run into a limit unseen. */
  readonly withoutStops: 'tolerated' | 'breaks_range_limits'
}

export function precautionsOf(episode: EpisodeRow | null): readonly Precaution[] {
  return episode === null ? [] : precautionsOnRecord.parse(episode.document).precautions
}

/** On a date; negative before the operation, null without one. */
export function weeksSinceSurgery(episode: EpisodeRow | null, on: string): number | null {
  const surgeryOn = episode?.surgeryOn ?? null
  return surgeryOn === null ? null : (calendarDayNumber(on) - calendarDayNumber(surgeryOn)) / 7
}

/** Precautions speak of the involved limb; where both or neither are named, of both. */
export function isGuarded(episode: EpisodeRow | null, side: Side): boolean {
  return episode !== null && episode.involvedSide !== otherSide(side)
}

/** Episodes whose precautions hold for a joint: those that go on. */
export function activeEpisodes(episodes: readonly EpisodeRow[], joint: string): readonly EpisodeRow[] {
  return episodes.filter((episode) => episode.joint === joint && episode.status === 'active')
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
  if (!isInForce(precaution, weeks)) return false
  switch (precaution.kind) {
    case 'earliest_week':
      return precaution.contractionMode === undefined || precaution.contractionMode === direction.contractionMode
    case 'contraction_mode_excluded':
      return precaution.contractionMode === direction.contractionMode
    case 'range_limit': {
      const angles = movementPair(direction.movement).flatMap((movement) => stops?.[movement]?.canonicalValue ?? [])
      if (angles.length < 2 && withoutStops === 'breaks_range_limits') return true
      const { lowest, highest } = precaution
      return [...angles, ...(direction.anglesDeg ?? [])].some(
        (angle) => angle < lowest.canonicalValue || angle > highest.canonicalValue,
      )
    }
  }
}

/** Without a date of surgery nobody can count its weeks: whatever would end with them is taken to hold still. */
export function isInForce(precaution: Precaution, weeks: number | null): boolean {
  if (precaution.kind === 'earliest_week') return weeks === null || (weeks >= 0 && weeks < precaution.week)
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

/** As a plan keeps it, to tell later which precautions its reason was given for. */
export const inFull = (precaution: Precaution): string => `${inWords(precaution)} (set by the ${precaution.setBy}).`

const untilWords = (week: number | undefined): string => (week === undefined ? '' : ` until week ${week} after surgery`)
