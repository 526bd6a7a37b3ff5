/**
 * What a pushed session looks like beside the subject's own history and the episode's precautions. A test that was done is
 * never refused: it is stored, and what needs a clinician's eye goes on the work list with its evidence.
 */
import { v7 as uuidv7 } from 'uuid'
import {
  screenAngleRange,
  screenBodyMass,
  screenImpossible,
  screenPain,
  screenSeatDepth,
  screenSideSwap,
  screenUnitErrors,
  type HazardFinding,
  type Movement,
  type Side,
  type TorqueAgainstHistory,
} from '../../compute/index.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import type { FlagWrite } from '../../store/flag-store.ts'
import type { JudgedResultRow, ResultWrite } from '../../store/result-store.ts'
import type { WeighedSetup } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'
import { flexionToCheckDeg } from '../prepare-session/setup-findings.ts'
import { readMeasure, type MeasuresDocument } from '../results/measures-document.ts'
import { EFFECTS } from './finding-flags.ts'
import { loadPast, type Past } from './past.ts'
import { precautionHazards, type SessionHazard } from './precaution-hazards.ts'
import type { SessionPlace } from './resolve-place.ts'
import type { SessionContent } from './session-content.ts'

export async function sessionHazards(
  tx: ClinicTx,
  ctx: Context,
  prepared: PreparedSession,
  place: SessionPlace,
  content: SessionContent,
): Promise<FlagWrite[]> {
  const past = await loadPast(tx, ctx, place, content)
  const { document } = prepared
  const hazards: SessionHazard[] = [
    ...screenUnitErrors(torquesAgainstHistory(prepared, content, past.results)),
    ...sideSwapHazards(content, past),
    ...painHazards(prepared, content),
    ...impossibleHazards(prepared, content),
    ...(document.bodyMass === undefined
      ? []
      : present(screenBodyMass(document.bodyMass.canonicalValue, past.lastBodyMassKg, '#/bodyMass'))),
    ...document.setups.flatMap((setup, index) =>
      present(
        screenSeatDepth(
          setup.seatDepthCheck === undefined ? null : setup.seatDepthCheck.calfToSeatGap.canonicalValue * 100,
          flexionToCheckDeg(setup),
          `#/setups/${index}/seatDepthCheck`,
        ),
      ),
    ),
    ...angleRangeHazards(prepared, content),
    ...precautionHazards(prepared, place, past),
  ]
  return hazards.flatMap((hazard) => flagsFor(hazard, content))
}

const peakOf = (row: { measures: unknown }): number | null => readMeasure(row.measures, 'peakTorque', 'best').value

function torquesAgainstHistory(
  prepared: PreparedSession,
  content: SessionContent,
  history: readonly JudgedResultRow[],
): TorqueAgainstHistory[] {
  return content.results.flatMap((result) => {
    const torqueNm = peakOf(result)
    if (torqueNm === null) return []
    const { movement, velocityDegS } = parseSeriesKey(result.series)
    const set = content.sets.find(({ id }) => id === result.setId)
    const setup = prepared.document.setups.find(({ key }) => key === prepared.document.sets[set?.ordinal ?? 0]?.setup)
    return [
      {
        target: result.id,
        origin: result.origin === 'computed' ? 'recorded' : 'reported',
        side: result.side,
        movement,
        velocityDegS,
        torqueNm,
        historyNm: history
          .filter((row) => row.series === result.series && row.side === result.side)
          .flatMap((row) => peakOf(row) ?? []),
        leverArmM: setup?.attachment?.leverArmLength?.canonicalValue ?? null,
      } satisfies TorqueAgainstHistory,
    ]
  })
}

/** A slipped decimal needs no history to be seen. */
function impossibleHazards(prepared: PreparedSession, content: SessionContent): SessionHazard[] {
  const ofResults = content.results.flatMap(({ id, measures }) => {
    const best = (measure: string) => readMeasure(measures, measure, 'best').value
    return [
      screenIfKnown('torque', best('peakTorque'), id),
      screenIfKnown('torque_per_body_mass', best('peakTorquePerBodyMass'), id),
      screenIfKnown('angle', best('angleOfPeakTorque'), id),
    ]
  })
  const ofSetups = prepared.document.setups.map(
    ({ attachment }, index) =>
    screenIfKnown('lever_arm', attachment?.leverArmLength?.canonicalValue ?? null, `#/setups/${index}/attachment/leverArmLength`), // prettier-ignore
  )
  return [...ofResults, ...ofSetups].flatMap(present)
}

const screenIfKnown = (
  quantity: Parameters<typeof screenImpossible>[0],
  value: number | null,
  target: string,
): HazardFinding | null => (value === null ? null : screenImpossible(quantity, value, target))

/** Where the sides were exchanged, the values of both are wrong. */
function sideSwapHazards(content: SessionContent, past: Past): SessionHazard[] {
  return present(screenSideSwap(sideSwapInput(content, past))).map((found) => {
    const swapped = content.results.filter(({ id }) => found.targets.includes(id)).map(({ series }) => series)
    return { ...found, targets: content.results.filter(({ series }) => swapped.includes(series)).map(({ id }) => id) }
  })
}

function sideSwapInput(content: SessionContent, past: Past): Parameters<typeof screenSideSwap>[0] {
  const series = [...new Set(content.results.map((row) => row.series))]
  const now = (key: string, side: Side): ResultWrite | undefined =>
    content.results.find((row) => row.series === key && row.side === side)
  return {
    torques: series.flatMap((key) => {
      const [left, right] = [now(key, 'left'), now(key, 'right')]
      const values = {
        leftNow: left === undefined ? null : peakOf(left),
        rightNow: right === undefined ? null : peakOf(right),
        leftHistory: lastPeak(past.results, key, 'left'),
        rightHistory: lastPeak(past.results, key, 'right'),
      }
      const movement: Movement = parseSeriesKey(key).movement
      return allKnown(values) ? [{ ...values, movement, target: left?.id ?? '' }] : []
    }),
    signs: [
      ...sign('limb weight', 1, (setup) => setup.gravityMomentNm, content, past),
      ...sign('lever arm', 10, leverArmMm, content, past),
    ],
  }
}

function lastPeak(results: readonly JudgedResultRow[], series: string, side: Side): number | null {
  const row = results.findLast((one) => one.series === series && one.side === side)
  return row === undefined ? null : peakOf(row)
}

type Limbs = Record<'leftNow' | 'rightNow' | 'leftHistory' | 'rightHistory', number>

function allKnown(values: { [K in keyof Limbs]: number | null }): values is Limbs {
  return Object.values(values).every((value) => value !== null)
}

function sign(
  name: string,
  tolerance: number,
  read: (setup: WeighedSetup) => number | null,
  content: SessionContent,
  past: Past,
) {
  const of = (setups: readonly WeighedSetup[], side: Side): number | null => {
    const setup = setups.findLast((one) => one.side === side)
    return setup === undefined ? null : read(setup)
  }
  const values = {
    leftNow: of(content.setups, 'left'),
    rightNow: of(content.setups, 'right'),
    leftHistory: of(past.setups, 'left'),
    rightHistory: of(past.setups, 'right'),
  }
  return allKnown(values) ? [{ ...values, name, tolerance }] : []
}

function leverArmMm(setup: WeighedSetup): number | null {
  const { attachment } = setup.document as { attachment?: { leverArmLength?: { value: number; unit: string } } }
  const length = attachment?.leverArmLength
  if (length === undefined) return null
  return length.value * ({ m: 1000, cm: 10, mm: 1 }[length.unit] ?? NaN)
}

/** Pain during the test speaks of every maximal effort of the visit. */
function painHazards(prepared: PreparedSession, content: SessionContent): SessionHazard[] {
  if (content.results.length === 0) return []
  const during = prepared.document.screening?.pain?.during?.canonicalValue ?? null
  return present(screenPain(during, '#/screening/pain/during')).map((found) =>
    found.level === 'hold' ? { ...found, targets: content.results.map(({ id }) => id) } : found,
  )
}

function angleRangeHazards(prepared: PreparedSession, content: SessionContent): HazardFinding[] {
  return content.results.flatMap((result) => {
    const moved = (result.measures as MeasuresDocument).rangeOfMotion?.best?.value ?? null
    const set = content.sets.find(({ id }) => id === result.setId)
    const setup = prepared.document.setups.find(({ key }) => key === prepared.document.sets[set?.ordinal ?? 0]?.setup)
    const stops = Object.values(setup?.stops ?? {}).flatMap((stop) => stop?.canonicalValue ?? [])
    const planned = stops.length === 2 ? Math.max(...stops) - Math.min(...stops) : 0
    return moved === null || !(planned > 0) ? [] : present(screenAngleRange(moved, planned, result.id))
  })
}

const present = <T>(value: T | null): T[] => (value === null ? [] : [value])

/** A target that is a result holds that result back; any other target is a pointer into the document. */
function flagsFor(hazard: SessionHazard, content: SessionContent): FlagWrite[] {
  return hazard.targets.map((target) => {
    const result = content.results.find(({ id }) => id === target)
    const set = result === undefined ? undefined : content.sets.find(({ id }) => id === result.setId)
    return {
      id: uuidv7(),
      subjectId: content.session.subjectId,
      sessionId: content.session.sessionId,
      resultId: result?.id ?? null,
      code: hazard.code,
      level: hazard.level,
      pointer: set === undefined ? target : `#/sets/${set.ordinal}`,
      message: hazard.message,
      effect: EFFECTS[hazard.level],
      evidence: hazard.evidence,
    }
  })
}
