/** A draft setup against the pinned one, measure by measure: it will compare, or "put this back and it will". */
import { COMPARED_MEASURES, type ComparabilityFacts, type ComparabilityRule } from '../../compute/index.ts'
import { dynamometerOnRecord, type DynamometerDescription } from '../../domain/dynamometer-document.ts'
import { documentError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { PreflightQuestion } from '../../domain/preflight-document.ts'
import { setupRuleFaults } from '../../domain/session-rules.ts'
import { loadDescription } from '../../store/dynamometer-store.ts'
import { loadEpisodesOfSubject, type EpisodeRow } from '../../store/episode-store.ts'
import { loadReferenceSetups } from '../../store/setup-store.ts'
import type { Context } from '../context.ts'
import { compareSetups, factsOfSetup, readRecordedSetup, type PinnedSetup, type SetupComparisonFacts } from '../judgement/reference-setup.ts' // prettier-ignore
import { representReasons } from '../judgement/represent-comparability.ts'
import { loadRulesInForce } from '../judgement/rules-in-force.ts'
import { setupFacts } from '../judgement/setup-facts.ts'
import { whatToPutBack } from '../judgement/what-to-put-back.ts'
import { perform } from '../perform.ts'
import { axisOffset } from '../prepare-session/axis-offset.ts'
import { gravityModelFor } from '../prepare-session/setup-findings.ts'
import { setupFaults } from '../sessions/check-description.ts'
import { dayIn } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import { resolveDynamometer, resolveSubject } from '../shared/references.ts'
import { activeEpisodes } from './broken-precautions.ts'
import { brokenBy } from './create-test-plan.ts'
import { stateOf } from './represent-reference-setup.ts'

interface Asked {
  readonly question: PreflightQuestion
  readonly machine: { readonly id: string; readonly version: number; readonly description: DynamometerDescription }
  readonly pinned: PinnedSetup | null
  readonly rules: readonly ComparabilityRule[]
  readonly episodes: readonly EpisodeRow[]
  readonly today: string
}

export async function preflight(ctx: Context, input: { document: LazyDocument<PreflightQuestion> }) {
  const asked = await perform(ctx, 'preflight.run', async (tx, trace): Promise<Asked> => {
    const { sent, value: question } = input.document()
    const { setup } = question
    const broken = setupRuleFaults((sent as { setup: unknown }).setup, ['setup'])
    if (broken.length > 0) throw documentError(broken)
    const subjectId = await resolveSubject(tx, question.subject, '#/subject')
    trace.subject(subjectId)
    const dynamometerId = await resolveDynamometer(tx, question.dynamometer, '#/dynamometer')
    const row = orNotFound(await loadDescription(tx, dynamometerId, null))
    const description = dynamometerOnRecord.parse(row.document)
    const faults = setupFaults(setup, description, ['setup'])
    if (faults.length > 0) throw documentError(faults)
    const { joint, side } = setup
    const [reference] = await loadReferenceSetups(tx, { subjectId, joint, side, dynamometerId, knownAt: ctx.now })
    return {
      question,
      machine: { id: dynamometerId, version: row.version, description },
      pinned: reference === undefined ? null : { reference, ...(await readRecordedSetup(tx, reference.setup)) },
      rules: await loadRulesInForce(tx, ctx.now),
      episodes: activeEpisodes(await loadEpisodesOfSubject(tx, subjectId, ctx.now), joint),
      today: dayIn(ctx.actor.timeZone, ctx.now),
    }
  })
  return describe(asked)
}

function describe(asked: Asked) {
  const { question, pinned, episodes, today } = asked
  const { setup, directions, plannedOn = today } = question
  const plan = { side: setup.side, stops: setup.stops, plannedOn, sets: [{ directions, contractionScheme: 'single_direction' as const }] } // prettier-ignore
  return {
    reference:
      pinned === null
        ? null
        : {
            id: pinned.reference.id,
            version: pinned.reference.version,
            sessionId: pinned.row.sessionId,
            testedAt: pinned.row.startedAt,
            state: stateOf(pinned.reference),
          },
    directions: pinned === null ? [] : directions.map((direction) => judgeDirection(asked, pinned, direction)),
    stillToMeasure: STILL_TO_MEASURE.filter(({ missing }) => missing(setup)).map(({ what }) => what),
    beyondPrecautions: [...new Set(brokenBy(plan, episodes).map(({ message }) => message))],
    notes: [
      pinned === null
        ? 'No setup is pinned for this limb on this machine: there is nothing to compare with.'
        : 'The setup alone was judged. What is still to measure is taken to come out as in the reference.',
    ],
  }
}

function judgeDirection(asked: Asked, pinned: PinnedSetup, direction: PreflightQuestion['directions'][number]) {
  const reference = factsOfSetup(pinned, direction.movement)
  const draft = draftFacts(asked, reference, direction)
  const best = measuredAsIn(reference, draft)
  const measures = COMPARED_MEASURES.filter((measure) => measure !== 'strengthRatio').map((measure) => {
    const comparability = compareSetups(reference, draft, measure, asked.rules)
    const { grave, caution } = whatToPutBack(comparability, compareSetups(reference, best, measure, asked.rules))
    return {
      measure,
      verdict: comparability.verdict,
      toCompare: grave,
      toCompareWithoutCaution: caution,
      reasons: representReasons(comparability.reasons),
    }
  })
  return { movement: direction.movement, contractionMode: direction.contractionMode, measures }
}

/** Zero, axis and weight that are not in the draft will be measured: until then they count as in the reference. */
function draftFacts(
  { question, machine }: Asked,
  reference: SetupComparisonFacts,
  direction: PreflightQuestion['directions'][number],
): ComparabilityFacts {
  const { setup } = question
  const context = { dynamometerId: machine.id, description: machine.description, descriptionVersion: machine.version }
  const facts = setupFacts(setup, direction.movement, axisOffset(setup), context)
  const { limbWeighing } = setup
  const weighed = limbWeighing === undefined ? null : gravityModelFor(setup, direction.movement).momentNm
  return {
    ...NOT_OF_THE_SETUP,
    ...facts,
    side: setup.side,
    movement: direction.movement,
    contractionMode: direction.contractionMode,
    velocityDegS: direction.velocity.canonicalValue,
    anatomicalZero: setup.anatomicalZero === undefined ? reference.anatomicalZero : facts.anatomicalZero,
    axis: setup.axisCheck === undefined ? reference.axis : facts.axis,
    gravityCorrected: limbWeighing === undefined ? reference.gravityCorrected : weighed === null ? 'no' : 'yes',
  }
}

/** All that is measured today comes out as in the reference, and without error. */
function measuredAsIn({ anatomicalZero, axis, gravityCorrected }: SetupComparisonFacts, draft: ComparabilityFacts) {
  const offset = axis?.offset ?? null
  return {
    ...draft,
    anatomicalZero,
    axis: axis === null || offset === null ? axis : { ...axis, offset: { ...offset, halfWidthMm: 0 } },
    gravityCorrected: gravityCorrected ?? 'yes',
  }
}

/** No rule that speaks of the setup reads these. */
const NOT_OF_THE_SETUP = {
  contractionScheme: null,
  intendedRepetitions: null,
  deviceFilter: null,
  deviceWindowing: null,
  processingKey: null,
  verbalEncouragement: null,
  visualFeedback: null,
  familiarisation: null,
  startMinuteOfDay: null,
  operator: null,
  restBeforeS: null,
  limbOrder: null,
  velocityOrder: null,
  warmUp: null,
  analgesics: null,
  painDuring: null,
  bodyMassKg: null,
} as const

type Draft = PreflightQuestion['setup']
const STILL_TO_MEASURE: readonly { readonly what: string; readonly missing: (setup: Draft) => boolean }[] = [
  { what: 'anatomical_zero', missing: ({ anatomicalZero }) => anatomicalZero?.afterLastAdjustment !== 'yes' },
  { what: 'axis_check', missing: ({ axisCheck }) => axisCheck?.status !== 'performed' || axisCheck.afterLastAdjustment === 'no' }, // prettier-ignore
  { what: 'limb_weight', missing: ({ limbWeighing: weighing }) => weighing === undefined || weighing.method === 'not_performed' || weighing.afterLastAdjustment !== 'yes' }, // prettier-ignore
]
