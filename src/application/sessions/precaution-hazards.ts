/** Screening answers, precautions of the episode, calibration, and a first visit: what a clinician should have seen. */
import { calendarDayNumber } from '../../compute/index.ts'
import { SCREENING_QUESTIONS } from '../../domain/code-lists.ts'
import { episodeDocument, type EpisodeDocument } from '../../domain/episode-document.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'
import type { SessionPlace } from './resolve-place.ts'
import type { Past } from './session-hazards.ts'

/** As compute's hazard findings, with the codes that rest on the clinic's own records. */
export interface SessionHazard {
  readonly code: string
  readonly level: 'note' | 'caution' | 'hold'
  readonly targets: readonly string[]
  readonly message: string
  readonly evidence: Readonly<Record<string, number | string>>
}

type Precaution = EpisodeDocument['precautions'][number]
type Document = PreparedSession['document']

export function precautionHazards(prepared: PreparedSession, place: SessionPlace, past: Past): SessionHazard[] {
  const { document } = prepared
  if (document.sets.length === 0) return []
  return [
    ...screeningHazards(document),
    ...brokenPrecautions(document, place),
    ...calibrationHazards(document, place, past),
    ...(past.results.length === 0 && document.conditions?.familiarisation !== 'earlier_session'
      ? [
          {
            code: 'first_session',
            level: 'note' as const,
            targets: ['#/conditions/familiarisation'],
            // McCleary & Andersen 1992 J Athl Train 27:362-5: the first day differed from the later ones.
            message: 'First visit without an earlier familiarisation: learning may look like recovery at the next one.',
            evidence: {},
          },
        ]
      : []),
  ]
}

function screeningHazards(document: Document): SessionHazard[] {
  const answers = document.screening?.answers ?? []
  const open = SCREENING_QUESTIONS.filter(
    ({ code }) => !answers.some((a) => a.question === code && (a.answer === 'yes' || a.answer === 'no')),
  )
  const reported = answers.filter(({ answer }) => answer === 'yes')
  return [
    ...(open.length === 0
      ? []
      : [
          {
            code: 'screening_incomplete',
            level: 'note' as const,
            targets: ['#/screening'],
            message: `${open.length} of ${SCREENING_QUESTIONS.length} screening questions have no answer.`,
            evidence: { unanswered: open.map(({ code }) => code).join(', ') },
          },
        ]),
    ...reported.map(({ question }) => ({
      code: 'contraindication_reported',
      level: 'caution' as const,
      targets: [`#/screening/answers/${answers.findIndex((a) => a.question === question)}`],
      message: `The screening answers yes to ${question.replaceAll('_', ' ')}. Local protocol and licensed practice come first.`,
      evidence: { question },
    })),
  ]
}

function brokenPrecautions(document: Document, place: SessionPlace): SessionHazard[] {
  if (place.episode === null) return []
  const { precautions } = episodeDocument.parse(place.episode.document)
  const { surgeryOn } = place.episode
  const weeks =
    surgeryOn === null ? null : (calendarDayNumber(document.startedAt.slice(0, 10)) - calendarDayNumber(surgeryOn)) / 7
  return document.sets.flatMap((set, index) => {
    const setup = document.setups.find(({ key }) => key === set.setup)
    const involved = place.episode?.involvedSide
    if (setup === undefined || (involved !== 'bilateral' && setup.side !== involved)) return []
    return precautions.flatMap((precaution) => {
      const broken = set.directions.some((direction) => breaks(precaution, direction, setup, weeks))
      if (!broken) return []
      return [
        {
          code: 'precaution_broken',
          level: 'caution' as const,
          targets: [`#/sets/${index}`],
          message: `This set goes beyond a precaution of the episode (${precaution.kind.replaceAll('_', ' ')}), set by the ${precaution.setBy}.`,
          evidence: { kind: precaution.kind, ...(weeks === null ? {} : { weeksSinceSurgery: weeks }) },
        },
      ]
    })
  })
}

function breaks(
  precaution: Precaution,
  direction: Document['sets'][number]['directions'][number],
  setup: Document['setups'][number],
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
      return precaution.contractionMode === direction.contractionMode && isInForce(precaution.untilWeek, weeks)
    case 'range_limit': {
      const stops = Object.values(setup.stops ?? {}).flatMap((stop) => stop?.canonicalValue ?? [])
      const beyond = stops.some(
        (stop) => stop < precaution.lowest.canonicalValue || stop > precaution.highest.canonicalValue,
      )
      return beyond && isInForce(precaution.untilWeek, weeks)
    }
  }
}

/** Without a date of surgery a precaution with an end is taken to hold still. */
function isInForce(untilWeek: number | undefined, weeks: number | null): boolean {
  return untilWeek === undefined || weeks === null || weeks < untilWeek
}

function calibrationHazards(document: Document, place: SessionPlace, past: Past): SessionHazard[] {
  if (place.dynamometerId === null) return []
  const { lastCalibration } = past
  const target = ['#/dynamometer']
  if (lastCalibration === null) {
    return [{ code: 'calibration_unknown', level: 'note', targets: target, message: 'No calibration check of this dynamometer before the test is on record.', evidence: {} }] // prettier-ignore
  }
  const { nextDueOn } = lastCalibration
  if (nextDueOn === null || document.startedAt.slice(0, 10) <= nextDueOn) return []
  return [
    {
      code: 'calibration_overdue',
      level: 'caution',
      targets: target,
      message: `The calibration check of this dynamometer was due on ${nextDueOn}.`,
      evidence: { nextDueOn },
    },
  ]
}
