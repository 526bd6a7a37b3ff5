import type { HazardFinding } from './finding.ts'

/**
 * Pain screen: a test under pain above 3/10 shows the pain, not the strength.
 *
 * Above 3 holds the set; a score that was not recorded is a caution; a score outside 0 to 10 is impossible. Exactly 3 is no finding.
 * Units: numeric rating 0 to 10. Source: BMJ Open Sport Exerc Med consensus, table 3 (pain above 3 stops a test).
 * What for: keeps a number that shows pain from being read as weakness. Errors: none. Limits: trusts the score that
 * was written down.
 *
 * @example screenPain(4, '#/sets/0')?.code // 'pain_limited'
 */
export function screenPain(painDuring: number | null, target: string): HazardFinding | null {
  if (painDuring === null) {
    return {
      code: 'pain_not_recorded',
      level: 'caution',
      targets: [target],
      message: 'Pain during the test is not recorded.',
      evidence: {},
    }
  }
  if (!(painDuring >= 0 && painDuring <= 10)) return impossible('pain', painDuring, '{score}', 0, 10, target)
  if (painDuring <= 3) return null
  return {
    code: 'pain_limited',
    level: 'hold',
    targets: [target],
    message: `Pain of ${painDuring}/10 during the test: the values do not show the strength of the muscle.`,
    evidence: { painDuring },
  }
}

export type BoundedQuantity =
  'torque' | 'torque_per_body_mass' | 'angle' | 'velocity' | 'body_mass' | 'lever_arm' | 'limb_moment' | 'pain'

/** Bounds no person and no machine exceeds, set wide; common practice, no source. */
const bounds: Readonly<Record<Exclude<BoundedQuantity, 'pain'>, readonly [low: number, high: number, unit: string]>> = {
  torque: [0, 1000, 'N.m'],
  torque_per_body_mass: [0, 10, 'N.m/kg'],
  angle: [-60, 200, 'deg'],
  velocity: [0, 1000, 'deg/s'],
  body_mass: [15, 350, 'kg'],
  lever_arm: [0.02, 1, 'm'],
  limb_moment: [0, 150, 'N.m'],
}

/**
 * Impossible-value screen: magnitudes that neither people nor machines reach, wide enough never to touch a strong athlete.
 *
 * Units: those of the table (N.m, N.m/kg, deg, deg/s, kg, m). Bounds belong to the possible. A number that is not finite is impossible.
 * Source: common practice, no source. Not for judging plausibility: that takes the subject's own history.
 * What for: slipped decimals and foreign units that no history is needed to see. Errors: none; a number that is not
 * finite is a finding.
 * Limits: wide bounds; a wrong value inside them passes.
 *
 * @example screenImpossible('torque', 1820, '#/sets/0')?.code // 'impossible_value'
 */
export function screenImpossible(
  quantity: Exclude<BoundedQuantity, 'pain'>,
  value: number,
  target: string,
): HazardFinding | null {
  const [low, high, unit] = bounds[quantity]
  return value >= low && value <= high ? null : impossible(quantity, value, unit, low, high, target)
}

function impossible(
  quantity: BoundedQuantity,
  value: number,
  unit: string,
  low: number,
  high: number,
  target: string,
): HazardFinding {
  const shown = Number.isFinite(value) ? value : 'not a number'
  return {
    code: 'impossible_value',
    level: 'hold',
    targets: [target],
    message: `${quantity.replaceAll('_', ' ')} of ${shown} lies outside ${low} to ${high} ${unit}.`,
    evidence: { value: shown, low, high, unit },
  }
}

/**
 * Body-mass screen: pounds sent as kilograms, kilograms as pounds, or a change that moves every value per kilogram.
 *
 * Within 5 % of 2.205 (or its inverse) times the last mass holds; beyond 5 % of the last mass is a note. Units: kg.
 * Masses outside 15 to 350 kg are impossible. Source: factor by definition of the pound; limits common practice, no source.
 * What for: every value per kilogram hangs on it. Errors: none. Limits: needs the last mass for all but the
 * impossible; a first mass in the wrong unit passes between 15 and 350 kg.
 *
 * @example screenBodyMass(150.8, 68.4, '#/bodyMass')?.code // 'possible_unit_error'
 */
export function screenBodyMass(massKg: number, lastMassKg: number | null, target: string): HazardFinding | null {
  if (lastMassKg !== null && lastMassKg > 0 && massKg > 0) {
    const ratio = massKg / lastMassKg
    const pound = 2.2046226218487757
    for (const factor of [pound, 1 / pound]) {
      if (Math.abs(ratio / factor - 1) > 0.05) continue
      const question = factor > 1 ? 'pounds sent as kilograms' : 'kilograms sent as pounds'
      return {
        code: 'possible_unit_error',
        level: 'hold',
        targets: [target],
        message: `${round(massKg)} kg is ${round(ratio)} of the last body mass ${round(lastMassKg)} kg: was it ${question}?`,
        evidence: { massKg, lastMassKg, ratio, factor },
      }
    }
  }
  const bound = screenImpossible('body_mass', massKg, target)
  if (bound !== null || lastMassKg === null || !(lastMassKg > 0)) return bound
  const changePct = 100 * (massKg / lastMassKg - 1)
  // 105 kg after 100 kg is 5 %, not 5.000000000000004 %.
  if (Math.abs(changePct) <= 5 + 1e-9) return null
  return {
    code: 'body_mass_changed',
    level: 'note',
    targets: [target],
    message: `Body mass changed by ${round(changePct)} % since the last session: values per kilogram move with it.`,
    evidence: { massKg, lastMassKg, changePct },
  }
}

/**
 * Angle screen: radians sent as degrees (or the reverse), by the range moved against the range between the stops.
 *
 * Ratio = range moved / range planned. Below 1/30 or above 30 holds as a possible unit error (a radian is 57.3 deg; no one who moves at
 * all moves so little or so far); else more than 30 deg or more than half short of, or 10 deg beyond, the stops is a caution. Units: deg.
 * Source: common practice, no source. Errors: RangeError for a planned range that is not positive.
 * What for: a wrong unit of the angle makes work wrong by 57.3 and empties the load range. Limits: needs the stops
 * that were planned.
 *
 * @example screenAngleRange(1.57, 90, '#/sets/0/recording')?.code // 'possible_unit_error'
 */
export function screenAngleRange(movedDeg: number, plannedDeg: number, target: string): HazardFinding | null {
  if (!(plannedDeg > 0 && Number.isFinite(plannedDeg))) throw new RangeError('a planned range must be positive')
  if (!Number.isFinite(movedDeg) || movedDeg < 0) return impossible('angle', movedDeg, 'deg', 0, 360, target)
  const ratio = movedDeg / plannedDeg
  if (movedDeg > 0 && (ratio < 1 / 30 || ratio > 30)) {
    const question = ratio < 1 ? 'radians sent as degrees' : 'degrees sent as radians'
    return {
      code: 'possible_unit_error',
      level: 'hold',
      targets: [target],
      message: `The limb moved through ${round(movedDeg)} deg of ${round(plannedDeg)} deg between the stops: was it ${question}?`,
      evidence: { movedDeg, plannedDeg, ratio },
    }
  }
  if (movedDeg - plannedDeg <= 10 && plannedDeg - movedDeg <= 30 && ratio >= 0.5) return null
  return {
    code: 'angle_range_differs',
    level: 'caution',
    targets: [target],
    message: `The limb moved through ${round(movedDeg)} deg of ${round(plannedDeg)} deg between the stops.`,
    evidence: { movedDeg, plannedDeg, ratio },
  }
}

/** Two fingers, cm; common practice, no source. */
const TWO_FINGERS_CM = 3
/** Up to here the gap of two fingers is normally enough; common practice, no source. */
const FLEXION_FOR_TWO_FINGERS_DEG = 100

/**
 * Seat-depth check for seated knee tests: whether the gap between calf and seat edge leaves room for the planned flexion.
 *
 * Rule of thumb: about two fingers (3 cm) are normally enough for up to 100 deg of flexion. Less, or more flexion than that, warns; it
 * never refuses. Units: cm, deg. Source: common practice, no source. A gap or angle that is not recorded gives no finding here.
 * What for: a seat edge in the calf lifts the thigh and moves the knee off its axis. Errors: none. Limits: a rule of
 * thumb for seated knees.
 *
 * @example screenSeatDepth(1.5, 95, '#/setups/0/seatDepthCheck')?.level // 'caution'
 */
export function screenSeatDepth(
  calfToSeatGapCm: number | null,
  plannedFlexionDeg: number | null,
  target: string,
): HazardFinding | null {
  if (calfToSeatGapCm === null || plannedFlexionDeg === null) return null
  if (!Number.isFinite(calfToSeatGapCm) || !Number.isFinite(plannedFlexionDeg)) return null
  const narrow = calfToSeatGapCm < TWO_FINGERS_CM
  if (!narrow && plannedFlexionDeg <= FLEXION_FOR_TWO_FINGERS_DEG) return null
  const why = narrow
    ? `A gap of ${round(calfToSeatGapCm)} cm between calf and seat edge is less than about two fingers (${TWO_FINGERS_CM} cm)`
    : `Flexion of ${round(plannedFlexionDeg)} deg is more than the ${FLEXION_FOR_TWO_FINGERS_DEG} deg for which two fingers are usually enough`
  return {
    code: 'seat_depth_gap',
    level: 'caution',
    targets: [target],
    message: `${why}: the seat may press into the calf.`,
    evidence: { calfToSeatGapCm, plannedFlexionDeg },
  }
}

function round(value: number): string {
  return String(Number(value.toPrecision(4)))
}
