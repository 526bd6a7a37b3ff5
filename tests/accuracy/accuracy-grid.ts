import { ADULT_SHANK } from '../../src/demo/simulator/limb.ts'
import type { SimulationOptions } from '../../src/demo/simulator/simulate-recording.ts'
import type { AccuracyCase } from './accuracy-case.ts'

const SEEDS = [11, 23, 37, 41]

/** What every case departs from: 0.5 N.m of noise, an overshoot with its impact, five repetitions that differ by 2 %. */
const USUAL: Partial<SimulationOptions> = { torqueNoiseNm: 0.5, overshootFraction: 0.08, impactTorqueNm: 5 }
const NO_OVERSHOOT: Partial<SimulationOptions> = { overshootFraction: 0, impactTorqueNm: 0 }

/** The machine turns the other way round for the other leg: torque and angle change their signs. */
const SIDES = {
  right: { torquePositive: 'extension', anglePositive: 'flexion' },
  left: { torquePositive: 'flexion', anglePositive: 'extension', readingAtAnatomicalZeroDeg: 90 },
} as const satisfies Record<string, Partial<SimulationOptions>>

export function reciprocal(velocityDegS: number, mode: 'concentric' | 'eccentric' = 'concentric') {
  return {
    directions: [
      { muscle: 'extension', mode, velocityDegS },
      { muscle: 'flexion', mode, velocityDegS },
    ],
  } as const satisfies Partial<SimulationOptions>
}

function accuracyCase(label: string, ...changes: readonly Partial<SimulationOptions>[]): AccuracyCase {
  return { label, seeds: SEEDS, simulation: Object.assign({}, USUAL, ...changes) as Partial<SimulationOptions> }
}

export function isometric(riseS: number) {
  return {
    directions: [{ muscle: 'extension', mode: 'isometric', velocityDegS: 0 }],
    activationTimeConstantS: riseS,
    deactivationTimeConstantS: riseS,
  } as const satisfies Partial<SimulationOptions>
}

const gravity = (gravityMomentNm: number): Partial<SimulationOptions> => ({ limb: { ...ADULT_SHANK, gravityMomentNm } })

/** The table of the report: one thing varied at a time. */
export const REPORT: readonly { readonly title: string; readonly cases: readonly AccuracyCase[] }[] = [
  {
    title: 'Set velocity, concentric',
    cases: [30, 60, 90, 120, 180, 240, 300, 400].map((v) => accuracyCase(`${v} deg/s`, reciprocal(v))),
  },
  {
    title: 'Set velocity, eccentric',
    cases: [30, 60, 120, 180].map((v) => accuracyCase(`${v} deg/s`, reciprocal(v, 'eccentric'))),
  },
  {
    title: 'Isometric, time constant of the rise 100 ms, by noise',
    cases: [0, 0.5, 1, 2].map((torqueNoiseNm) =>
      accuracyCase(`${torqueNoiseNm} N.m`, isometric(0.1), { torqueNoiseNm }),
    ),
  },
  {
    title: 'Isometric, by time constant of the rise (a low-pass filter overshoots a steep rise to a plateau)',
    cases: [0.03, 0.05, 0.1, 0.15].map((seconds) => accuracyCase(`${1000 * seconds} ms`, isometric(seconds))),
  },
  ...[60, 180, 300].map((v) => ({
    title: `Noise on torque at 1 kHz, ${v} deg/s`,
    cases: [0, 0.5, 1, 2].map((torqueNoiseNm) =>
      accuracyCase(`${torqueNoiseNm} N.m`, reciprocal(v), { torqueNoiseNm }),
    ),
  })),
  ...[60, 180, 300].map((v) => ({
    title: `Velocity overshoot and impact, ${v} deg/s`,
    cases: [
      [0, 0],
      [0.03, 3],
      [0.08, 5],
      [0.12, 10],
      [0.15, 40],
    ].map(([overshootFraction, impactTorqueNm]) =>
      accuracyCase(`${100 * overshootFraction!} %, ${impactTorqueNm!} N.m`, reciprocal(v), {
        overshootFraction: overshootFraction!,
        impactTorqueNm: impactTorqueNm!,
      }),
    ),
  })),
  {
    title: 'Creep of the torque zero, 60 deg/s (not correctable: nothing in the recording tells it from strength)',
    cases: [0, 1, 3, 6].map((d) => accuracyCase(`${d} N.m/min`, reciprocal(60), { torqueDriftNmPerMin: d })),
  },
  ...[60, 300].map((v) => ({
    title: `Sample rate, ${v} deg/s (the same noise on every sample: a lower rate has more of it in the band)`,
    cases: [100, 200, 500, 1000, 2000].map((sampleRateHz) =>
      accuracyCase(`${sampleRateHz} Hz`, reciprocal(v), { sampleRateHz }),
    ),
  })),
  {
    title: 'Gravity moment, 60 deg/s',
    cases: [5, 10, 15, 20].map((moment) => accuracyCase(`${moment} N.m`, reciprocal(60), gravity(moment))),
  },
  {
    title: 'Side (signs turned), 180 deg/s',
    cases: Object.entries(SIDES).map(([side, signs]) => accuracyCase(side, reciprocal(180), signs)),
  },
]

/** The grid on which the bounds are asserted: everything crossed with everything. */
export const BOUNDED: readonly AccuracyCase[] = [60, 90, 120, 180, 240, 300].flatMap((velocity) =>
  [0, 0.5, 1, 2].flatMap((torqueNoiseNm) =>
    Object.entries(SIDES).flatMap(([side, signs]) =>
      [5, 12.5, 20].map((moment): AccuracyCase => {
        const label = `${velocity} deg/s, noise ${torqueNoiseNm}, ${side}, gravity ${moment}`
        const changes = [reciprocal(velocity), NO_OVERSHOOT, { torqueNoiseNm }, signs, gravity(moment)]
        return { ...accuracyCase(label, ...changes), seeds: [velocity + 10 * torqueNoiseNm + moment] }
      }),
    ),
  ),
)

/** With an overshoot that leaves the band and an impact. */
export const OVERSHOOTING: readonly AccuracyCase[] = [60, 120, 180, 240, 300].map((v) =>
  accuracyCase(`${v} deg/s`, reciprocal(v)),
)

export const ECCENTRIC: readonly AccuracyCase[] = [30, 60, 120, 180].map((v) =>
  accuracyCase(`${v} deg/s`, reciprocal(v, 'eccentric'), { torqueNoiseNm: 1 }),
)

export const ISOMETRIC: readonly AccuracyCase[] = [0, 0.5, 1, 2].map((torqueNoiseNm) =>
  accuracyCase(`noise ${torqueNoiseNm}`, isometric(0.1), { torqueNoiseNm }),
)

/** Too short a stretch at the set speed, or none: to be refused. */
export const IMMEASURABLE: readonly AccuracyCase[] = [
  [300, 1000],
  [400, 1000],
  [400, 2000],
].map(([velocity, acceleration]) =>
  accuracyCase(`${velocity!} deg/s with ${acceleration!} deg/s2`, reciprocal(velocity!), NO_OVERSHOOT, {
    accelerationDegS2: acceleration!,
    decelerationDegS2: acceleration!,
  }),
)
