/** Screening answers, precautions of the episode, calibration, and a first visit: what a clinician should have seen. */
import { SCREENING_QUESTIONS } from '../../domain/code-lists.ts'
import type { EpisodeRow } from '../../store/episode-store.ts'
import { driftBeyondLimit } from '../dynamometers/calibration-drift.ts'
import type { PreparedSession, PreparedSet } from '../prepare-session/prepared-session.ts'
import { activeEpisodes, brokenPrecautions, weeksSinceSurgery } from '../setups/broken-precautions.ts'
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
    ...precautionsGoneBeyond(prepared, place, past),
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

/** An answer without a side speaks of both limbs; one with a side leaves the other limb unanswered. */
function screeningHazards(document: Document): SessionHazard[] {
  const answers = document.screening?.answers ?? []
  const sides = new Set(document.setups.map(({ side }) => side))
  const open = SCREENING_QUESTIONS.flatMap(({ code }) => {
    const given = answers.filter(({ question, answer }) => question === code && (answer === 'yes' || answer === 'no'))
    const without = [...sides].filter((side) => !given.some((one) => one.side === undefined || one.side === side))
    if (without.length === 0 && given.length > 0) return []
    return [without.length === sides.size ? code : `${code} (${without.join(', ')})`]
  })
  const reported = answers.flatMap(({ answer, question, side }, place) =>
    answer === 'yes' ? [{ question, place, ...(side === undefined ? {} : { side }) }] : [],
  )
  return [
    ...(open.length === 0
      ? []
      : [
          {
            code: 'screening_incomplete',
            level: 'note' as const,
            targets: ['#/screening'],
            message: `${open.length} of ${SCREENING_QUESTIONS.length} screening questions have no answer for a tested limb.`,
            evidence: { unanswered: open.join(', ') },
          },
        ]),
    ...reported.map(({ place, ...evidence }) => ({
      code: 'contraindication_reported',
      level: 'caution' as const,
      targets: [`#/screening/answers/${place}`],
      message: `The screening answers yes to ${Object.values(evidence).join(', ').replaceAll('_', ' ')}. Local protocol and licensed practice come first.`,
      evidence,
    })),
  ]
}

function precautionsGoneBeyond({ document, sets }: PreparedSession, place: SessionPlace, past: Past): SessionHazard[] {
  const on = document.startedAt.slice(0, 10)
  return document.sets.flatMap((set, index) => {
    const setup = document.setups.find(({ key }) => key === set.setup)
    if (setup === undefined) return []
    const { joint, side, stops } = setup
    const directions = (sets[index]?.directions ?? []).map((done) => ({ ...done, anglesDeg: loadedAt(done) }))
    const test = { side, stops, directions, withoutStops: 'tolerated' } as const
    return guarding(joint, place, past).flatMap((episode) => {
      const weeks = weeksSinceSurgery(episode, on)
      return brokenPrecautions(episode, test, on).map((precaution) => ({
        code: 'precaution_broken',
        level: 'caution' as const,
        targets: [`#/sets/${index}`],
        message: `This set goes beyond a precaution of the episode (${precaution.kind.replaceAll('_', ' ')}), set by the ${precaution.setBy}.`,
        evidence: { kind: precaution.kind, ...(weeks === null ? {} : { weeksSinceSurgery: weeks }) },
      }))
    })
  })
}

/** Load ranges end well inside the stops: an angle of theirs beyond a limit is no matter of a degree of play. */
function loadedAt({ repetitions, measures }: PreparedSet['directions'][number]): readonly number[] {
  const peak = measures.angleOfPeakTorque?.best?.value ?? null
  const ranges = repetitions.flatMap(({ loadRange }) =>
    loadRange === null ? [] : [loadRange.startAngleDeg, loadRange.endAngleDeg],
  )
  return peak === null ? ranges : [...ranges, peak]
}

/** Those that go on, whether the visit names them or not, and the one it names, of this joint. */
function guarding(joint: string, { episode }: SessionPlace, { episodes }: Past): readonly EpisodeRow[] {
  const active = activeEpisodes(episodes, joint)
  const named = episode !== null && episode.joint === joint && !active.some(({ id }) => id === episode.id)
  return named ? [...active, episode] : active
}

function calibrationHazards(document: Document, place: SessionPlace, past: Past): SessionHazard[] {
  if (place.dynamometerId === null) return []
  const { lastCalibration } = past
  const target = ['#/dynamometer']
  if (lastCalibration === null) {
    return [{ code: 'calibration_unknown', level: 'note', targets: target, message: 'No calibration check of this dynamometer before the test is on record.', evidence: {} }] // prettier-ignore
  }
  const { nextDueOn } = lastCalibration
  const beyond = driftBeyondLimit(lastCalibration)
  const hazards: (SessionHazard | null)[] = [
    nextDueOn === null || document.startedAt.slice(0, 10) <= nextDueOn
      ? null
      : {
          code: 'calibration_overdue',
          level: 'caution',
          targets: target,
          message: `The calibration check of this dynamometer was due on ${nextDueOn}.`,
          evidence: { nextDueOn },
        },
    beyond === null
      ? null
      : {
          code: 'calibration_drift',
          level: 'caution',
          targets: target,
          message: `The last calibration check before the test was off by ${beyond.percent.toFixed(1)} %; the clinic allows ${beyond.largestPercent} %.`,
          evidence: { driftPercent: beyond.percent, largestDriftPercent: beyond.largestPercent },
        },
  ]
  return hazards.filter((hazard) => hazard !== null)
}
