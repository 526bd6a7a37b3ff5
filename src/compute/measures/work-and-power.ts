const RADIANS = Math.PI / 180

/**
 * Work in a window: the integral of torque over the angle IN RADIANS, by the trapezoid rule on the angle samples.
 *
 * What for: work per repetition. Conventions: torque in the tested sign, angle travelled in the movement's direction, so
 * concentric and eccentric work both come out positive; torque of the other sign inside the window subtracts.
 * Units: N.m, deg -> J. Forgetting pi / 180 makes it 57.3 times too much.
 * Limits: gravity-corrected work still holds the limb's kinetic energy where the window includes acceleration
 * (Boggess 2008, J Sports Sci Med 7:84-90). Source: Winter 2009, ch. 6 (work as an integral).
 * Errors: none; an empty window is 0.
 *
 * @example workJ(200 sin(2 angle), 0..90 deg at 1 deg, 1, -1, 0, 90) // 199.979692
 */
export function workJ(
  torqueNm: Float64Array,
  angleDeg: Float64Array,
  testedSign: 1 | -1,
  motionSign: 1 | -1,
  from: number,
  to: number,
): number {
  let work = 0
  for (let i = from; i < to; i++) work += (torqueNm[i]! + torqueNm[i + 1]!) * (angleDeg[i + 1]! - angleDeg[i]!)
  // The angle falls in the first movement (motionSign +1).
  return (-testedSign * motionSign * work * RADIANS) / 2
}

/**
 * Work in the parts of a sample interval by which a window reaches beyond its first and last sample. J.
 *
 * The torque there is the window's own, drawn on in a straight line; the neighbour outside holds inertia and impact.
 * Conventions and units as workJ.
 * What for: at 100 Hz and 300 deg/s one interval is 3 deg, too much to leave out. Errors: none. Source: engineering
 * choice, no source. Limits: 0 at the ends of the recording.
 *
 * @example edgeWorkJ(torque, angle, 1, 1, 10, 50, 0.5, 0) // work of half an interval before sample 10
 */
export function edgeWorkJ(
  torqueNm: Float64Array,
  angleDeg: Float64Array,
  testedSign: 1 | -1,
  motionSign: 1 | -1,
  from: number,
  to: number,
  startPart: number,
  endPart: number,
): number {
  const edge = (at: number, inward: 1 | -1, part: number) => {
    const outside = at - inward
    if (part === 0 || outside < 0 || outside >= torqueNm.length || from === to) return 0
    const middle = torqueNm[at]! - (part / 2) * (torqueNm[at + inward]! - torqueNm[at]!)
    return middle * part * inward * (angleDeg[at]! - angleDeg[outside]!)
  }
  return -testedSign * motionSign * RADIANS * (edge(from, 1, startPart) + edge(to, -1, endPart))
}

/**
 * Average power: work over the duration of the same window. W.
 *
 * Errors: RangeError for a duration that is not positive. Source: common practice, no source.
 * What for: work and the time it took in one number. Limits: the window decides: load range and full range are two
 * measures.
 * Units: J, s -> W.
 *
 * @example averagePowerW(200, 1.5) // 133.333
 */
export function averagePowerW(work: number, durationS: number): number {
  if (!(durationS > 0)) throw new RangeError('duration must be positive')
  return work / durationS
}

/**
 * Peak power: the largest product of torque (tested sign) and the limb's speed in a window. W.
 *
 * null where the torque never has the tested sign. Units: N.m, deg/s -> W.
 * What for: at a set velocity little more than peak torque; kept because devices print it. Errors: none. Source:
 * common practice, no source. Limits: velocity noise enters; when not to use it: over an overshoot.
 *
 * @example peakPowerW(Float64Array.of(200), Float64Array.of(60), 1, 1, 0, 0) // 209.4395
 */
export function peakPowerW(
  torqueNm: Float64Array,
  velocityDegS: Float64Array,
  testedSign: 1 | -1,
  motionSign: 1 | -1,
  from: number,
  to: number,
): number | null {
  let most = 0
  for (let i = from; i <= to; i++) {
    const power = testedSign * motionSign * torqueNm[i]! * velocityDegS[i]!
    if (power > most) most = power
  }
  return most > 0 ? most * RADIANS : null
}

/**
 * Impulse (angular): the integral of torque in the tested sign over time, by the trapezoid rule. N.m.s.
 *
 * Source: Aagaard et al. 2002, J Appl Physiol 93:1318-26 (contractile impulse, isometric, from onset).
 * What for: torque and the time it was held. Units: N.m, Hz -> N.m.s. Errors: none. Limits: grows with the window, so
 * only equal windows compare.
 *
 * @example impulseNms(200 (1 - exp(-t / 0.1)), 1, 1000, 0, 100) // 7.3576
 */
export function impulseNms(
  torqueNm: Float64Array,
  testedSign: 1 | -1,
  sampleRateHz: number,
  from: number,
  to: number,
): number {
  let area = 0
  for (let i = from; i < to; i++) area += torqueNm[i]! + torqueNm[i + 1]!
  return (testedSign * area) / 2 / sampleRateHz
}
