/** Screening answers, precautions of the episode, calibration, and a first visit: what a clinician should have seen. */
import { SCREENING_QUESTIONS } from '../../domain/code-lists.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'
import { brokenPrecautions, weeksSinceSurgery } from '../setups/broken-precautions.ts'
import type { Past } from './past.ts'
import type { SessionPlace } from './resolve-place.ts'

/** As compute's hazard findings, with the codes that rest on the clinic's own records. */
export interface SessionHazard {
  readonly code: string
  readonly level: 'note' | 'caution' | 'hold'
  readonly targets: readonly string[]
  readonly message: string
  readonly evidence: Readonly<Record<string, number | string>>
}

type Document = PreparedSession['document']

export function precautionHazards(prepared: PreparedSession, place: SessionPlace, past: Past): SessionHazard[] {
  const { document } = prepared
  if (document.sets.length === 0) return []
  return [
    ...screeningHazards(document),
    ...precautionsGoneBeyond(document, place),
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

function precautionsGoneBeyond(document: Document, place: SessionPlace): SessionHazard[] {
  const on = document.startedAt.slice(0, 10)
  const weeks = weeksSinceSurgery(place.episode, on)
  return document.sets.flatMap((set, index) => {
    const setup = document.setups.find(({ key }) => key === set.setup)
    if (setup === undefined) return []
    const { side, stops } = setup
    const test = { side, stops, directions: set.directions, withoutStops: 'tolerated' } as const
    return brokenPrecautions(place.episode, test, on).map((precaution) => ({
      code: 'precaution_broken',
      level: 'caution' as const,
      targets: [`#/sets/${index}`],
      message: `This set goes beyond a precaution of the episode (${precaution.kind.replaceAll('_', ' ')}), set by the ${precaution.setBy}.`,
      evidence: { kind: precaution.kind, ...(weeks === null ? {} : { weeksSinceSurgery: weeks }) },
    }))
  })
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
