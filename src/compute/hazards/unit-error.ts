import type { Movement, Side } from '../types.ts'
import type { HazardFinding } from './finding.ts'

/** One torque of a document beside the subject's own history of the same test. */
export interface TorqueAgainstHistory {
  /** The caller's reference, given back in `targets`. */
  readonly target: string
  /** A recording states its unit once, by machine; each reported value states its own, often by hand. */
  readonly origin: 'recorded' | 'reported'
  readonly side: Side
  readonly movement: Movement
  readonly velocityDegS: number
  readonly torqueNm: number
  /** The subject's earlier torques of this very test (side, movement, mode, velocity, measure, statistic), oldest first, held ones left out. */
  readonly historyNm: readonly number[]
  readonly leverArmM: number | null
}

interface UnitFactor {
  readonly factor: number
  readonly question: string
}

/** Within this of a factor, relative: what separates 8.851 from 9.807 and still allows for ordinary change since the median. */
const RATIO_TOLERANCE = 0.05
/** A test at another velocity that lies this near its own median shows that the limb itself has not changed. */
const UNCHANGED = 0.15
/** A single value is judged only against a median of at least this many. */
const SINGLE_VALUE_HISTORY = 2

/**
 * Unit-error screen over the torques of one document.
 *
 * What for: foot-pounds, inch-pounds, kilogram-force metres, newton centimetres or newtons sent as newton metres, and the reverse. Formula:
 * ratio = torque / median (or latest) of the subject's own history of that test; it is suspicious within 5 % of 1.356, 2.205, 8.851, 9.807,
 * 57.3, 100, 1 / lever arm (m), or of the inverse of one of these.
 *
 * Two rules, because two things go wrong:
 * 1. The whole document. All torques with a history have the SAME suspicious ratio, and they are of both limbs: the unit was wrong at
 *    the source of the document, and a wrong unit cannot spare one leg, while x 1.36 in one muscle, or in one limb, is ordinary recovery.
 *    Where the medians show nothing, the latest values are asked: a limb in recovery has left its median behind.
 * 2. One reported value. Each reported value states its own unit, so one alone can be wrong: its ratio is suspicious while another
 *    torque of the same limb and movement in the same document lies within 15 % of its own median. The limb has not changed, so the
 *    number has. A rise by less than 2 is left alone even then (a muscle may gain in one velocity), recordings are left alone,
 *    and the median must rest on two earlier values.
 *
 * A real change may look like a unit error, so the finding holds the value and asks a clinician; nothing is corrected.
 * Units: N.m, m, deg/s. A torque or history that is not positive and finite is not judged here. Errors: RangeError for a
 * lever arm that is not positive. Source: factors by definition of the units; tolerances are common practice, no source.
 * Limits: without history nothing is found; a first visit in the wrong unit passes unseen.
 *
 * @example screenUnitErrors(torques)[0]?.message
 * // '87.5 N.m is 0.738 of this subject\'s median 118.6 N.m: was it foot-pounds sent as N.m?'
 */
export function screenUnitErrors(torques: readonly TorqueAgainstHistory[]): readonly HazardFinding[] {
  const judged = againstHistory(torques, 'median', medianOf)
  for (const list of [judged, againstHistory(torques, 'latest', (history) => history.at(-1) ?? null)]) {
    const bothLimbs = new Set(list.map(({ torque }) => torque.side)).size === 2
    const factor = bothLimbs ? commonFactor(list) : null
    if (factor !== null) return list.map((one) => unitFinding(one, factor))
  }
  return judged.flatMap((one) => {
    const factor = commonFactor([one])
    const suspicious =
      factor !== null &&
      (factor.factor < 1 || factor.factor > 2) &&
      one.torque.origin === 'reported' &&
      one.historyCount >= SINGLE_VALUE_HISTORY &&
      judged.some((other) => showsLimbUnchanged(other, one))
    return suspicious ? [unitFinding(one, factor)] : []
  })
}

interface Judged {
  readonly torque: TorqueAgainstHistory
  readonly against: 'median' | 'latest'
  readonly referenceNm: number
  readonly ratio: number
  readonly historyCount: number
}

function againstHistory(
  torques: readonly TorqueAgainstHistory[],
  against: Judged['against'],
  referenceOf: (history: readonly number[]) => number | null,
): Judged[] {
  return torques.flatMap((torque) => {
    if (torque.leverArmM !== null && !(torque.leverArmM > 0)) throw new RangeError('a lever arm must be positive')
    const history = torque.historyNm.filter((value) => Number.isFinite(value) && value > 0)
    const referenceNm = referenceOf(history)
    return referenceNm === null || !(Number.isFinite(torque.torqueNm) && torque.torqueNm > 0)
      ? []
      : [{ torque, against, referenceNm, ratio: torque.torqueNm / referenceNm, historyCount: history.length }]
  })
}

function showsLimbUnchanged(other: Judged, one: Judged): boolean {
  return (
    other !== one &&
    other.torque.side === one.torque.side &&
    other.torque.movement === one.torque.movement &&
    Math.abs(other.ratio - 1) <= UNCHANGED + 1e-9
  )
}

/** The factor that all ratios lie within 5 % of; of two, the one nearest to their middle. */
function commonFactor(list: readonly Judged[]): UnitFactor | null {
  const middle = medianOf(list.map(({ ratio }) => ratio))
  if (middle === null) return null
  const apart = (factor: number): number => Math.abs(Math.log(middle / factor))
  const shared = factorsFor(list[0]?.torque.leverArmM ?? null)
    .filter((_, i) => list.every(({ torque, ratio }) => near(ratio, factorsFor(torque.leverArmM)[i]?.factor)))
    .sort((a, b) => apart(a.factor) - apart(b.factor))
  return shared[0] ?? null
}

function near(ratio: number, factor: number | undefined): boolean {
  return factor !== undefined && Math.abs(ratio / factor - 1) <= RATIO_TOLERANCE
}

/** In one fixed order, so that the same place in two lists is the same mistake; the lever arm comes last and may be missing. */
function factorsFor(leverArmM: number | null): readonly UnitFactor[] {
  const definitions: readonly (readonly [number, string, string])[] = [
    [1.3558179483314004, 'newton metres sent as foot-pounds', 'foot-pounds sent as N.m'],
    [8.85074579002543, 'inch-pounds sent as N.m', 'newton metres sent as inch-pounds'],
    [9.80665, 'newton metres sent as kilogram-force metres', 'kilogram-force metres sent as N.m'],
    [100, 'newton centimetres sent as N.m', 'newton metres sent as newton centimetres'],
    [2.2046226218487757, 'pounds taken for kilograms', 'kilograms taken for pounds'],
    [57.29577951308232, 'degrees taken for radians', 'radians taken for degrees'],
    ...(leverArmM === null ? [] : ([[1 / leverArmM, 'newtons sent as N.m', 'newton metres sent as newtons']] as const)),
  ]
  return definitions.flatMap(([factor, above, below]) => [
    { factor, question: above },
    { factor: 1 / factor, question: below },
  ])
}

function unitFinding({ torque, against, referenceNm, ratio }: Judged, factor: UnitFactor): HazardFinding {
  const short = (value: number): string => String(Number(value.toPrecision(4)))
  return {
    code: 'possible_unit_error',
    level: 'hold',
    targets: [torque.target],
    message: `${short(torque.torqueNm)} N.m is ${Number(ratio.toPrecision(3))} of this subject's ${against} ${short(referenceNm)} N.m: was it ${factor.question}?`,
    evidence: { torqueNm: torque.torqueNm, [`${against}Nm`]: referenceNm, ratio, factor: factor.factor },
  }
}

function medianOf(values: readonly number[]): number | null {
  const sorted = values.slice().sort((a, b) => a - b)
  const middle = Math.floor(sorted.length / 2)
  const upper = sorted[middle]
  if (upper === undefined) return null
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] ?? upper) + upper) / 2
}
