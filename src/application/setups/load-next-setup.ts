/** All that is asked to say how a limb is set up next, read in one short transaction. */
import { dynamometerOnRecord, type DynamometerDescription } from '../../domain/dynamometer-document.ts'
import { loadCalibrationChecks, loadDescription, type CalibrationRow } from '../../store/dynamometer-store.ts'
import { loadEpisodesOfSubject, type EpisodeRow } from '../../store/episode-store.ts'
import { loadSession } from '../../store/session-store.ts'
import { loadReferenceSetups, loadSetupsOfJoint } from '../../store/setup-store.ts'
import { loadSubject, type SubjectRow } from '../../store/subject-store.ts'
import { loadTestPlans, type TestPlanWrite } from '../../store/test-plan-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import { readRecordedSetup, type PinnedSetup, type ReadSetup } from '../judgement/reference-setup.ts'
import { activeEpisodes } from './broken-precautions.ts'
import { otherSide } from './mirror-setup.ts'

export interface Limb {
  readonly subjectId: string
  readonly joint: string
  readonly side: 'left' | 'right'
  readonly dynamometerId: string
}

export interface NextSetupRecord {
  readonly subject: SubjectRow
  /** Active ones of the joint: the precautions of each hold for its own limb. */
  readonly episodes: readonly EpisodeRow[]
  readonly dynamometer: { readonly id: string; readonly version: number; readonly description: DynamometerDescription }
  readonly reference: PinnedSetup | null
  readonly otherReference: PinnedSetup | null
  /** The last visit of this limb, and of the other one, on this machine. */
  readonly last: ReadSetup | null
  readonly otherLast: ReadSetup | null
  /** The last visit of this limb on any other machine. */
  readonly elsewhere: ReadSetup | null
  /** Sets of the last visit of this limb, as pushed. */
  readonly lastSets: readonly LastSet[]
  readonly plan: TestPlanWrite | null
  readonly calibration: CalibrationRow | null
}

export interface LastSet {
  readonly directions: unknown
  readonly contractionScheme: string
  readonly intendedRepetitions?: number
  readonly restBefore?: { readonly value: number; readonly unit: string }
}

/** Enough to find the last visit of each limb on each machine of any clinic. */
const SETUPS_LOOKED_THROUGH = 200

export async function loadNextSetup(tx: ClinicTx, limb: Limb, knownAt: Date): Promise<NextSetupRecord | null> {
  const { subjectId, joint, side, dynamometerId } = limb
  const subject = await loadSubject(tx, subjectId, knownAt)
  const described = await loadDescription(tx, dynamometerId, null)
  if (subject === null || described === null) return null
  const setups = await loadSetupsOfJoint(tx, { subjectId, joint, knownAt, take: SETUPS_LOOKED_THROUGH })
  const here = setups.filter((setup) => setup.dynamometerId === dynamometerId)
  const pinned = await loadReferenceSetups(tx, { subjectId, joint, dynamometerId, knownAt })
  const read = async (found: (typeof setups)[number] | undefined): Promise<ReadSetup | null> =>
    found === undefined ? null : readRecordedSetup(tx, found)
  const pin = async (of: string): Promise<PinnedSetup | null> => {
    const reference = pinned.find((row) => row.side === of)
    return reference === undefined ? null : { reference, ...(await readRecordedSetup(tx, reference.setup)) }
  }
  const last = await read(here.find((setup) => setup.side === side))
  const [plan] = await loadTestPlans(tx, { subjectId, knownAt, take: 1, limb: { joint, side, dynamometerId } })
  const [calibration] = await loadCalibrationChecks(tx, dynamometerId, 1)
  return {
    subject,
    episodes: activeEpisodes(await loadEpisodesOfSubject(tx, subjectId, knownAt), joint),
    dynamometer: {
      id: dynamometerId,
      version: described.version,
      description: dynamometerOnRecord.parse(described.document),
    },
    reference: await pin(side),
    otherReference: await pin(otherSide(side)),
    last,
    otherLast: await read(here.find((setup) => setup.side === otherSide(side))),
    elsewhere: await read(setups.find((setup) => setup.side === side && setup.dynamometerId !== dynamometerId)),
    lastSets: last === null ? [] : await setsOf(tx, last),
    plan: plan === undefined || carriedOut(plan, last) ? null : plan,
    calibration: calibration ?? null,
  }
}

/** By a visit after the plan was made, on its day or later; one in between was another test. */
function carriedOut(plan: TestPlanWrite, last: ReadSetup | null): boolean {
  return last !== null && plan.recordedAt <= last.row.testedAt && plan.plannedOn <= last.row.startedAt.slice(0, 10)
}

async function setsOf(tx: ClinicTx, { row }: ReadSetup): Promise<readonly LastSet[]> {
  const session = await loadSession(tx, row.sessionId, row.sessionVersion)
  const { sets = [] } = (session?.document ?? {}) as { sets?: readonly (LastSet & { setup: string })[] }
  return sets.filter(({ setup }) => setup === row.key)
}
