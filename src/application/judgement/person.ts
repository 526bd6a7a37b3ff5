/** Whom and which limb a measurement error is asked for, at the date of a test. What is not known stays unknown. */
import { calendarDayNumber, DAYS_PER_MONTH, type OtherLimb, type Side, type TestedPerson } from '../../compute/index.ts'
import type { EpisodeRow } from '../../store/episode-store.ts'

export interface SubjectFacts {
  readonly sex: 'female' | 'male' | 'unknown'
  readonly birthDate: string | null
}

interface EpisodeWords {
  readonly otherLimbHistory?: 'none_known' | 'injury' | 'surgery' | 'unknown'
  readonly graft?: { readonly side: Side }
  readonly procedure?: string
}

export function testedPerson(subject: SubjectFacts, episode: EpisodeRow | null, side: Side, on: string): TestedPerson {
  return {
    ...limbCondition(episode, side, on),
    sex: subject.sex,
    ageYears: subject.birthDate === null ? null : wholeYears(subject.birthDate, on),
  }
}

/** What may be said of the limb that serves as denominator of a symmetry. */
export function otherLimb(episode: EpisodeRow): OtherLimb {
  const { otherLimbHistory = 'unknown', graft } = episode.document as EpisodeWords
  const other = episode.involvedSide === 'left' ? 'right' : 'left'
  return {
    history:
      episode.involvedSide === 'bilateral'
        ? 'both_involved'
        : otherLimbHistory === 'none_known'
          ? 'none'
          : otherLimbHistory,
    // No graft on record after an operation is not the same as no graft.
    gaveGraft:
      graft === undefined ? (episode.surgeryOn === null ? 'no' : 'unknown') : graft.side === other ? 'yes' : 'no',
  }
}

function limbCondition(
  episode: EpisodeRow | null,
  side: Side,
  on: string,
): Pick<TestedPerson, 'limbCondition' | 'monthsSinceSurgery'> {
  const unknown = { limbCondition: 'unknown', monthsSinceSurgery: null } as const
  if (episode === null) return unknown
  if (episode.involvedSide === side || episode.involvedSide === 'bilateral') {
    if (episode.surgeryOn !== null && episode.surgeryOn <= on) {
      const days = calendarDayNumber(on) - calendarDayNumber(episode.surgeryOn)
      return { limbCondition: 'operated', monthsSinceSurgery: days / DAYS_PER_MONTH }
    }
    if (episode.injuredOn !== null && episode.injuredOn > on) return unknown
    return { limbCondition: 'injured', monthsSinceSurgery: null }
  }
  switch ((episode.document as EpisodeWords).otherLimbHistory ?? 'unknown') {
    case 'none_known':
      return { limbCondition: 'no_history', monthsSinceSurgery: null }
    case 'injury':
      return { limbCondition: 'injured', monthsSinceSurgery: null }
    case 'surgery':
      return { limbCondition: 'operated', monthsSinceSurgery: null }
    case 'unknown':
      return unknown
  }
}

function wholeYears(birthDate: string, on: string): number {
  const years = Number(on.slice(0, 4)) - Number(birthDate.slice(0, 4))
  return on.slice(5) < birthDate.slice(5) ? years - 1 : years
}
