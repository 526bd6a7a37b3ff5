/** A session as it stands: its results, what was found in its setups, symmetry, flags, and what it may be compared with. */
import { AXIS_TOLERANCE_MM } from '../../compute/alignment/index.ts'
import { COMPUTE_VERSION, calendarDayNumber } from '../../compute/index.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { loadReferenceSetups } from '../../store/setup-store.ts'
import type { SessionRow, SetupWrite } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { representFlag } from '../flags/represent-flag.ts'
import { collect, compareResults } from '../judgement/compare-results.ts'
import { DEFAULT_CONFIDENCE } from '../judgement/error-model.ts'
import { holdOn, type History } from '../judgement/history.ts'
import { compareWithReference, readRecordedSetup, type PinnedSetup } from '../judgement/reference-setup.ts'
import { judgePairs } from '../judgement/limb-pairs.ts'
import { representPair } from '../judgement/represent-pair.ts'
import { representReasons } from '../judgement/represent-comparability.ts'
import { describeAxisErrors, describeAxisMove, millimetres } from '../prepare-session/axis-words.ts'
import type { AxisOffset, PreparedSetup } from '../prepare-session/prepared-session.ts'
import { representResult } from '../results/represent-result.ts'
import { orNotFound } from '../shared/existing.ts'
import { loadSessionRecords, type SessionRecord } from './load-session-records.ts'
import { representSessionRow } from './represent-session-row.ts'

/** With what it may be compared with. */
export async function describeSession(tx: ClinicTx, ctx: Context, sessionId: string) {
  const record = orNotFound((await loadSessionRecords(tx, [sessionId], ctx.now))[0])
  const { session, history, results } = record
  return {
    ...describeAlone(record),
    comparability: [
      ...comparabilityOf(history, session, results),
      ...withReferences(history, session, results, await loadPinned(tx, session, ctx.now)),
    ],
  }
}

export function describeAlone({ session, setups, results, flags, history }: SessionRecord) {
  return {
    session: representSessionRow(session, sinceSurgery(session, history)),
    computeVersion: COMPUTE_VERSION,
    setupFindings: setups.map(representSetupFindings),
    results: results.map((row) => representResult(row, flags, history.knownAt)),
    symmetry: symmetryOf(history, results),
    flags: flags.map(representFlag),
  }
}

export type SessionDescription = Awaited<ReturnType<typeof describeSession>>

function sinceSurgery(session: SessionRow, history: History) {
  const surgeryOn = history.episode?.surgeryOn ?? null
  if (session.episodeId === null || surgeryOn === null) return null
  const days = calendarDayNumber(session.startedAt.slice(0, 10)) - calendarDayNumber(surgeryOn)
  return { value: days / 7, unit: 'wk' }
}

function representSetupFindings(setup: SetupWrite) {
  const found = setup.findings as PreparedSetup
  return {
    setup: setup.key,
    side: setup.side,
    gravityMoment: { ...found.gravityMomentNm, unit: 'N.m' },
    limbWeightPlausible: found.limbWeightPlausible,
    weighingsAgree: found.weighingsAgree,
    axisOffset: representAxisOffset(found.axisOffset, found.side),
    seatDepthSufficient: found.seatDepthSufficient,
  }
}

/** Findings kept before errors and moves were told have none. */
function representAxisOffset(found: StoredAxisOffset, side: PreparedSetup['side']) {
  const { forwardMm, upMm, halfWidthMm, confidence, verdict, reason, errors, move } = found
  return {
    ...(forwardMm === null ? {} : { forward: millimetres(forwardMm) }),
    ...(upMm === null ? {} : { up: millimetres(upMm) }),
    ...(halfWidthMm === null ? {} : { halfWidth: millimetres(halfWidthMm) }),
    ...(confidence === null ? {} : { confidence }),
    verdict,
    ...(reason === null ? {} : { reason }),
    tolerance: millimetres(AXIS_TOLERANCE_MM),
    errors: errors === undefined || errors === null ? null : describeAxisErrors(errors),
    move: move?.map((one) => describeAxisMove(one, side)) ?? null,
  }
}

type StoredAxisOffset = Omit<AxisOffset, 'errors' | 'move'> & Partial<Pick<AxisOffset, 'errors' | 'move'>>

/** Peak torque, best repetition, in every series of the session. Other measures: GET /v1/subjects/{id}/symmetry. */
function symmetryOf(history: History, results: readonly JudgedResultRow[]) {
  const ask = { measure: 'peakTorque', statistic: 'best', confidence: DEFAULT_CONFIDENCE }
  return [...new Set(results.map((row) => row.series))].flatMap((series) => {
    const rows = history.results.filter((row) => row.series === series)
    return judgePairs(history, rows, ask)
      .filter((pair) => pair.sessionId === results[0]?.sessionId)
      .map((pair) => representPair(pair, ask))
  })
}

/** With the episode's baseline and with the previous test of the same series and side; a held result is no one's reference. */
function comparabilityOf(history: History, session: SessionRow, results: readonly JudgedResultRow[]) {
  return results.flatMap((row) => {
    const earlier = history.results.filter(
      (other) =>
        other.series === row.series &&
        other.side === row.side &&
        other.sessionId !== session.sessionId &&
        other.testedAt < row.testedAt &&
        holdOn(history, other) === null,
    )
    const baseline = baselineOf(history, session, earlier)
    const previous = earlier.at(-1)
    return [
      ...(baseline === undefined ? [] : [comparison(history, 'baseline', baseline, row)]),
      ...(previous === undefined ? [] : [comparison(history, 'previous', previous, row)]),
    ]
  })
}

/** The session the episode names as its baseline, else the first test of the series. */
function baselineOf(
  history: History,
  session: SessionRow,
  earlier: readonly JudgedResultRow[],
): JudgedResultRow | undefined {
  const named = history.episode?.baselineSessionId ?? null
  if (session.episodeId === null) return undefined
  return named === null ? earlier[0] : earlier.find((row) => row.sessionId === named)
}

function comparison(history: History, kind: 'baseline' | 'previous', before: JudgedResultRow, now: JudgedResultRow) {
  const { verdicts, reasons } = compareResults(before, now, history.rules)
  return {
    with: kind,
    sessionId: before.sessionId,
    resultId: now.id,
    againstResultId: before.id,
    set: now.setKey,
    side: now.side,
    movement: parseSeriesKey(now.series).movement,
    verdicts,
    reasons: representReasons(reasons),
  }
}

/** The setups pinned for the machine of this session, in force now. */
async function loadPinned(tx: ClinicTx, session: SessionRow, now: Date): Promise<PinnedSetup[]> {
  const { subjectId, dynamometerId } = session
  if (dynamometerId === null) return []
  const rows = await loadReferenceSetups(tx, { subjectId, dynamometerId, knownAt: now })
  return Promise.all(rows.map(async (reference) => ({ reference, ...(await readRecordedSetup(tx, reference.setup)) })))
}

function withReferences(
  history: History,
  session: SessionRow,
  results: readonly JudgedResultRow[],
  pinned: readonly PinnedSetup[],
) {
  return results.flatMap((row) => {
    const { joint, movement } = parseSeriesKey(row.series)
    const own = pinned.find(({ reference }) => reference.joint === joint && reference.side === row.side)
    // The session that was pinned is the reference: there is nothing to hold it against
    if (own === undefined || own.row.sessionId === session.sessionId) return []
    const { verdicts, reasons } = collect(compareWithReference(own, row, history.rules))
    return [
      {
        with: 'reference' as const,
        sessionId: own.row.sessionId,
        resultId: row.id,
        referenceSetupId: own.reference.id,
        set: row.setKey,
        side: row.side,
        movement,
        verdicts,
        reasons: representReasons(reasons),
      },
    ]
  })
}
