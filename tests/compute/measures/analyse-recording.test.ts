import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  analyseRecording,
  canonicalParameters,
  COMPUTE_VERSION,
  DEFAULT_PARAMETERS,
  MEASURE_NAMES,
  MEASURE_REVISION,
  MEASURE_UNITS,
} from '../../../src/compute/index.ts'
import type { AnalysisParameters, Protocol, Recording } from '../../../src/compute/index.ts'
import { simulateRecording } from '../../../src/demo/simulator/simulate-recording.ts'
import {
  concentric,
  kneeTorque,
  numbersIn,
  protocolOf,
  recordingOf,
  trapezoids,
  UNFILTERED,
} from '../hand-made-recording.ts'

const both = [concentric('extension', 60), concentric('flexion', 60)]
const course = trapezoids([90, 5, 90, 5, 90, 5, 90], 60, 2000)
const recording = recordingOf(course, kneeTorque(180, 100))

/** Three pairs of repetitions of 150, 180 and 165 N.m. */
const graded = recordingOf(
  course,
  (angle, velocity, time) => kneeTorque(1, 0.5)(angle, velocity) * (time < 4 ? 150 : time < 7.9 ? 180 : 165),
)

/** Computed by the first test that asks, so that a test and not the loading of this file is what fails. */
function lazily<T>(make: () => T): () => T {
  let kept: { readonly value: T } | null = null
  return () => (kept ??= { value: make() }).value
}

describe('a set of repetitions', () => {
  const analysis = lazily(() => analyseRecording(graded, protocolOf(both)))
  const extension = () => analysis().directions[0]!

  it('carries the number of repetitions behind every statistic, and which repetition was best', () => {
    const { best, mean, coefficientOfVariation } = extension().measures.peakTorque!
    // Filtering takes a tenth of a per cent off these humps.
    expect(best!.value).toBeGreaterThan(179.5)
    expect(best).toMatchObject({ n: 3, repetition: 2 })
    expect(mean!.value).toBeCloseTo(165, 0)
    expect(mean).toMatchObject({ n: 3 })
    expect(coefficientOfVariation!.value).toBeCloseTo((100 * 15) / 165, 1)
    expect(extension().counted).toBe(3)
  })

  it('takes angle and time to peak at the repetition with the best peak, and gives the angle no variation', () => {
    expect(extension().measures.angleOfPeakTorque!.best).toMatchObject({ repetition: 2 })
    expect(extension().measures.angleOfPeakTorque!.best!.value).toBeCloseTo(65, 0)
    expect(extension().measures.angleOfPeakTorque).not.toHaveProperty('coefficientOfVariation')
    expect(extension().measures.timeToPeakTorque!.best).toMatchObject({ repetition: 2 })
  })

  it('sums total work over the counted repetitions', () => {
    const work = extension().repetitions.map(({ measures }) => measures.workPerRepetition.value!)
    expect(extension().measures.totalWork!.total!.value).toBeCloseTo(work[0]! + work[1]! + work[2]!, 9)
    expect(extension().measures.totalWork!.total!.n).toBe(3)
  })

  it('divides by body mass, in its own units', () => {
    expect(extension().measures.peakTorquePerBodyMass!.best!.value).toBeCloseTo(
      extension().measures.peakTorque!.best!.value! / 75,
      12,
    )
    expect(MEASURE_UNITS.peakTorquePerBodyMass).toBe('N.m/kg')
    const massless = analyseRecording(graded, protocolOf(both, { bodyMassKg: null })).directions[0]!
    expect(massless.measures.workPerBodyMass!.mean).toEqual({ value: null, reason: 'body_mass_missing' })
  })

  it('asks for more repetitions before it speaks of fatigue', () => {
    expect(extension().measures.fatigueIndexEdges!.total).toEqual({ value: null, reason: 'too_few_repetitions', n: 3 })
  })

  it('has every measure, with a reason where it does not belong to the test', () => {
    for (const name of MEASURE_NAMES) expect(extension().measures).toHaveProperty(name)
    expect(extension().measures.rateOfTorqueDevelopment!.best).toEqual({ value: null, reason: 'isometric_only' })
    expect(extension().measures.isometricPlateauTorque!.mean).toEqual({ value: null, reason: 'isometric_only' })
  })

  it('names filter, gravity, version and parameters', () => {
    expect(analysis()).toMatchObject({
      gravityCorrected: 'yes',
      gravityCorrection: 'corrected_by_device',
      computeVersion: COMPUTE_VERSION,
      parameters: DEFAULT_PARAMETERS,
      sampleRateHz: expect.closeTo(1000, 6) as number,
      velocitySource: 'recorded',
      filter: { kind: 'butterworth_zero_phase', orderPerPass: 2, cutoffHz: 12, kinematicCutoffHz: 24 },
    })
  })

  it('gives torque at the angles asked for, inside the load range only', () => {
    const parameters = { ...DEFAULT_PARAMETERS, torqueAtAnglesDeg: [60, 3] }
    const [row, outside] = analyseRecording(graded, protocolOf(both, { parameters })).directions[0]!.torqueAtAngle
    expect(row!.best.value).toBeCloseTo(180 * Math.exp(-((5 / 50) ** 2)), 0)
    expect(row!.best).toMatchObject({ n: 3, repetition: 2 })
    expect(outside!.mean).toEqual({ value: null, reason: 'outside_load_range' })
  })
})

describe('notes on repetitions', () => {
  const notes = [{ repetition: 2, count: 'no', reason: 'pain' }] as const

  it('keep a repetition out, whatever its torque, and say why', () => {
    const { directions } = analyseRecording(graded, protocolOf(both, { repetitionNotes: notes }))
    for (const direction of directions) {
      expect(direction.counted).toBe(2)
      expect(direction.notCounted).toEqual([{ repetition: 2, reason: 'pain' }])
      expect(direction.measures.peakTorque!.best).toMatchObject({ repetition: 3, n: 2 })
    }
  })

  it('leave every statistic without a value where none counts: for the one reason, or because none does', () => {
    const noted = (reasons: readonly string[]) => {
      const repetitionNotes = reasons.map((reason, i) => ({ repetition: i + 1, count: 'no', reason }) as const)
      const { measures, torqueAtAngle } = analyseRecording(graded, protocolOf(both, { repetitionNotes })).directions[0]!
      return { ...measures.peakTorque, total: measures.totalWork!.total, angle: torqueAtAngle[0]!.mean }
    }
    const none = (reason: string) => ({ value: null, reason })
    for (const [reasons, reason] of [
      [['pain', 'pain', 'pain'], 'pain'],
      [['pain', 'aborted', 'pain'], 'no_counted_repetition'],
    ] as const) {
      const { best, mean, coefficientOfVariation, total, angle } = noted(reasons)
      expect([best, mean, coefficientOfVariation, total, angle]).toEqual(Array.from({ length: 5 }, () => none(reason)))
    }
    const one = noted(['pain', 'aborted'])
    expect(one.best).toMatchObject({ repetition: 3, n: 1 })
    expect(one.coefficientOfVariation).toEqual({ ...none('too_few_repetitions'), n: 1 })
  })

  it('do not make a repetition count that has no load range', () => {
    const fast = recordingOf(trapezoids([90, 0], 400, 1000), kneeTorque(100, 50))
    const { directions } = analyseRecording(
      fast,
      protocolOf([concentric('extension', 400)], {
        repetitionNotes: [{ repetition: 1, count: 'yes', reason: 'good' }],
      }),
    )
    expect(directions[0]!.counted).toBe(0)
  })

  it('that name a repetition which was not found are reported', () => {
    const { findings } = analyseRecording(
      graded,
      protocolOf(both, {
        repetitionNotes: [{ repetition: 9, count: 'no', reason: 'aborted' }],
        intendedRepetitions: 5,
      }),
    )
    expect(findings.map(({ code }) => code)).toEqual(
      expect.arrayContaining(['repetition_note_unmatched', 'repetition_count_differs']),
    )
  })
})

describe('fatigue over a long set', () => {
  const angles = Array.from({ length: 31 }, (_, i) => (i % 2 === 0 ? 90 : 5))
  let movement = 0
  let last = 0
  const tiring = recordingOf(trapezoids(angles, 180, 3000, 0.1), (angle, velocity) => {
    if (velocity > 0 && last <= 0) movement += 1
    last = velocity
    return kneeTorque(150 - 2 * (movement - 1), 60)(angle, velocity)
  })

  it('finds the slope and the index of the peaks', () => {
    const { directions } = analyseRecording(
      tiring,
      protocolOf([concentric('extension', 180), concentric('flexion', 180)]),
    )
    const { fatigueSlope, fatigueIndexEdges, workFatigueThirds } = directions[0]!.measures
    expect(directions[0]!.counted).toBe(15)
    expect(fatigueSlope!.total!.value).toBeCloseTo(-2, 1)
    expect(fatigueIndexEdges!.total!.value).toBeCloseTo((100 * 20) / 146, 0)
    expect(workFatigueThirds!.total).toMatchObject({ n: 15 })
    expect(directions[1]!.measures.fatigueSlope!.total!.value).toBeCloseTo(0, 2)
  })
})

describe('an isometric set', () => {
  const isometric = { movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 } as const
  const torqueAt = (t: number) => {
    const since = (t % 5) - 1
    return since < 0 ? 0 : since < 3 ? 200 * (1 - Math.exp(-since / 0.1)) : 200 * Math.exp(-(since - 3) / 0.1)
  }
  const still = {
    timeS: Array.from({ length: 15000 }, (_, i) => i / 1000),
    angleDeg: new Array<number>(15000).fill(60),
    velocityDegS: new Array<number>(15000).fill(0),
  }
  const held = recordingOf(still, (_a, _v, t) => torqueAt(t))
  const extension = lazily(() => analyseRecording(held, protocolOf([isometric])).directions[0]!)
  const first = () => extension().repetitions[0]!

  it('finds three contractions with plateau, peak and angle', () => {
    expect(extension().counted).toBe(3)
    // What is left of the rise, and of the filter's ringing after it.
    expect(extension().measures.isometricPlateauTorque!.mean!.value).toBeCloseTo(200, 1)
    // A step through the low-pass overshoots its plateau: bounded by 1 %.
    expect(extension().measures.peakTorque!.best!.value).toBeLessThan(202)
    expect(first().measures.angleOfPeakTorque.value).toBeCloseTo(60, 9)
    expect(first().contraction).toBe('isometric')
  })

  it('finds onset and rates near the closed form', () => {
    expect(Math.abs(first().startS - 1)).toBeLessThan(0.004)
    const rates = new Map(first().rateOfTorqueDevelopment.map(({ windowMs, rate }) => [windowMs, rate.value!]))
    // The 150 Hz filter rounds the corner, so the onset is up to 3 ms early: 2 % of the rate over 100 ms.
    expect(Math.abs(rates.get(100)! / 1264.2411 - 1)).toBeLessThan(0.02)
    expect(Math.abs(rates.get(200)! / 864.6647 - 1)).toBeLessThan(0.02)
    expect(first().measures.rateOfTorqueDevelopment.value).toBe(rates.get(100))
    expect(first().peakRateOfTorqueDevelopment.value).toBeGreaterThan(1600)
    expect(first().measures.impulse.value).toBeCloseTo(22.7, 0)
  })

  it('gives what needs movement a reason', () => {
    for (const name of ['workPerRepetition', 'averagePower', 'loadRange', 'rangeOfMotion'] as const) {
      expect(extension().measures[name]!.best).toEqual({ value: null, reason: 'isokinetic_only' })
    }
    expect(extension().measures.totalWork!.total).toEqual({ value: null, reason: 'isokinetic_only' })
  })

  it('gives no rate over a window that the contraction does not last, nor one that was not asked for', () => {
    const brief = recordingOf(still, (_a, _v, t) => (t > 1 && t < 1.6 ? 100 : 0))
    const parameters = (windowsMs: readonly number[], windowMs: number) => ({
      ...DEFAULT_PARAMETERS,
      isometric: {
        ...DEFAULT_PARAMETERS.isometric,
        rateOfTorqueDevelopmentWindowsMs: windowsMs,
        rateOfTorqueDevelopmentWindowMs: windowMs,
        impulseWindowMs: 900,
      },
    })
    const measured = (windowsMs: readonly number[], windowMs: number) =>
      analyseRecording(brief, protocolOf([isometric], { parameters: parameters(windowsMs, windowMs) })).directions[0]!
        .repetitions[0]!
    const short = { value: null, reason: 'contraction_shorter_than_window' }
    const repetition = measured([100, 800], 800)
    expect(repetition.rateOfTorqueDevelopment.map(({ rate }) => rate.value === null)).toEqual([false, true])
    expect(repetition.measures.rateOfTorqueDevelopment).toEqual(short)
    expect(repetition.measures.impulse).toEqual(short)
    expect(repetition.counted).toBe('yes')
    expect(measured([100], 50).measures.rateOfTorqueDevelopment).toEqual({
      value: null,
      reason: 'window_not_asked_for',
    })
    expect(repetition.torqueAtAngle).toEqual([])
    expect(extension().torqueAtAngle[0]!.best).toEqual({ value: null, reason: 'isokinetic_only' })
  })

  it('does not count a contraction with a hole in it', () => {
    const torqueNm = held.torqueNm.slice()
    torqueNm.fill(Number.NaN, 6500, 6600)
    const { repetitions, notCounted } = analyseRecording({ ...held, torqueNm }, protocolOf([isometric])).directions[0]!
    expect(notCounted).toEqual([{ repetition: 2, reason: 'samples_missing' }])
    for (const name of ['peakTorque', 'impulse', 'isometricPlateauTorque', 'timeToPeakTorque'] as const) {
      expect(repetitions[1]!.measures[name], name).toEqual({ value: null, reason: 'samples_missing' })
    }
  })

  it('flags a limb that moved, and an onset that was not there', () => {
    const moving = recordingOf({ ...still, angleDeg: still.timeS.map((t) => 60 - (t % 5) * 3) }, (_a, _v, t) =>
      torqueAt(t),
    )
    expect(analyseRecording(moving, protocolOf([isometric])).directions[0]!.repetitions[0]!.flags).toContain(
      'limb_moved',
    )
    const late = recordingOf({ ...still, timeS: still.timeS }, (_a, _v, t) => torqueAt(t + 1.5))
    const [begun] = analyseRecording(late, protocolOf([isometric])).directions[0]!.repetitions
    expect(begun!.flags).toContain('onset_not_found')
    expect(begun!.measures.rateOfTorqueDevelopment).toEqual({ value: null, reason: 'onset_not_found' })
    expect(begun!.measures.peakTorque.value).toBeGreaterThan(199)
  })

  it('tells two directions by the sign of the torque, and can’t where there is none', () => {
    const alternating = recordingOf(still, (_a, _v, t) => (t > 5 && t < 10 ? -0.5 : 1) * torqueAt(t))
    const pair = [isometric, { ...isometric, movement: 'flexion' as const }]
    const analysed = analyseRecording(alternating, protocolOf(pair))
    expect(analysed.directions.map(({ counted }) => counted)).toEqual([2, 1])
    expect(analysed.directions[1]!.measures.peakTorque!.best!.value).toBeCloseTo(100, 0)
    const unsigned = {
      ...alternating,
      torqueNm: alternating.torqueNm.map(Math.abs),
      torquePositive: 'unsigned' as const,
    }
    expect(analyseRecording(unsigned, protocolOf(pair)).findings[0]!.code).toBe('unsigned_torque_has_no_direction')
    expect(analyseRecording(unsigned, protocolOf([isometric])).directions[0]!.counted).toBe(3)
  })
})

describe('a caller’s mistake is a RangeError', () => {
  const isometric = { movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 } as const
  it.each([
    ['no direction', { directions: [] }],
    ['three directions', { directions: [...both, concentric('extension', 90)] }],
    ['directions of two pairs', { directions: [both[0]!, { ...both[0]!, movement: 'abduction' }] }],
    ['the same direction twice', { directions: [both[0]!, both[0]!] }],
    ['isokinetic at no velocity', { directions: [concentric('extension', 0)] }],
    ['isokinetic at NaN', { directions: [concentric('extension', Number.NaN)] }],
    ['isometric at a velocity', { directions: [{ ...isometric, velocityDegS: 60 }] }],
    ['isometric with isokinetic', { directions: [isometric, both[1]!] }],
    ['no body', { bodyMassKg: 0 }],
    [
      'an endless gravity',
      {
        gravity: {
          kind: 'cosine',
          momentNm: Infinity,
          orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 },
        },
      },
    ],
    ['a sweep that runs back', { gravity: { kind: 'passive_sweep', angleDeg: [5, 1], passiveTorqueNm: [1, 1] } }],
    ['a sweep of one angle', { gravity: { kind: 'passive_sweep', angleDeg: [5], passiveTorqueNm: [1] } }],
    [
      'a band of nothing',
      { parameters: { ...DEFAULT_PARAMETERS, loadRange: { ...DEFAULT_PARAMETERS.loadRange, bandPercent: 0 } } },
    ],
    [
      'an odd filter',
      { parameters: { ...DEFAULT_PARAMETERS, filter: { ...DEFAULT_PARAMETERS.filter, orderPerPass: 3 } } },
    ],
    [
      'a negative cutoff',
      { parameters: { ...DEFAULT_PARAMETERS, filter: { ...DEFAULT_PARAMETERS.filter, isometricCutoffHz: -1 } } },
    ],
  ] as [string, Partial<Protocol>][])('%s', (_what, changes) => {
    expect(() => analyseRecording(recording, protocolOf(both, changes))).toThrow(RangeError)
  })
})

describe('parameters as canonical text', () => {
  it('does not depend on the order of the keys', () => {
    const shuffled = Object.fromEntries(Object.entries(DEFAULT_PARAMETERS).reverse()) as unknown as AnalysisParameters
    expect(Object.keys(shuffled)[0]).not.toBe(Object.keys(DEFAULT_PARAMETERS)[0])
    expect(canonicalParameters(shuffled)).toBe(canonicalParameters(DEFAULT_PARAMETERS))
    expect(JSON.parse(canonicalParameters(DEFAULT_PARAMETERS))).toEqual(DEFAULT_PARAMETERS)
  })

  it('changes with every choice, and refuses what JSON can’t say', () => {
    const changed = { ...DEFAULT_PARAMETERS, edgePercent: 6 }
    expect(canonicalParameters(changed)).not.toBe(canonicalParameters(DEFAULT_PARAMETERS))
    expect(() => canonicalParameters({ ...DEFAULT_PARAMETERS, edgePercent: Number.NaN })).toThrow(RangeError)
    expect(() => canonicalParameters({ ...DEFAULT_PARAMETERS, edgePercent: undefined } as never)).toThrow(RangeError)
  })

  it('has a revision for every measure', () => {
    expect(Object.keys(MEASURE_REVISION).sort()).toEqual(Object.keys(MEASURE_UNITS).sort())
  })
})

describe('laws of the analysis', () => {
  const run = { seed: 20261125, numRuns: 25 }
  const value = (r: Recording, p: Protocol, name: 'peakTorque' | 'workPerRepetition' | 'angleOfPeakTorque') =>
    analyseRecording(r, p).directions.map(({ measures }) => measures[name]!.best!.value!)

  it('scales: twice the torque is twice the peak and the work, at the same angle', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.2, max: 3, noNaN: true }), (factor) => {
        const scaled = { ...recording, torqueNm: recording.torqueNm.map((x) => factor * x) }
        for (const name of ['peakTorque', 'workPerRepetition'] as const) {
          const before = value(recording, protocolOf(both), name)
          value(scaled, protocolOf(both), name).forEach((after, i) => expect(after / before[i]!).toBeCloseTo(factor, 9))
        }
        const angle = value(recording, protocolOf(both), 'angleOfPeakTorque')
        value(scaled, protocolOf(both), 'angleOfPeakTorque').forEach((after, i) =>
          expect(after).toBeCloseTo(angle[i]!, 6),
        )
      }),
      run,
    )
  })

  it('undoes gravity: a recording with the limb’s weight in it, corrected, measures like one without', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 5, max: 20, noNaN: true }),
        fc.double({ min: -10, max: 10, noNaN: true }),
        (momentNm, raised) => {
          const orientation = { belowHorizontalAtZeroDeg: -raised, perJointDegree: 1 } as const
          const heavy = {
            ...recording,
            torqueState: 'measured' as const,
            torqueNm: recording.torqueNm.map(
              (x, i) => x - momentNm * Math.cos(((recording.angleDeg[i]! - raised) * Math.PI) / 180),
            ),
          }
          const protocol = protocolOf(both, { gravity: { kind: 'cosine', momentNm, orientation } })
          const clean = value(recording, protocolOf(both), 'workPerRepetition')
          value(heavy, protocol, 'workPerRepetition').forEach((work, i) => expect(work).toBeCloseTo(clean[i]!, 6))
        },
      ),
      run,
    )
  })

  it('does not care at which even rate it was sampled, within 1 %', () => {
    const reference = value(recording, protocolOf(both), 'workPerRepetition')
    for (const rate of [200, 333, 500, 2000, 4000]) {
      const other = recordingOf(trapezoids([90, 5, 90, 5, 90, 5, 90], 60, 2000, 0.4, rate), kneeTorque(180, 100))
      value(other, protocolOf(both), 'workPerRepetition').forEach((work, i) => {
        expect(Math.abs(work / reference[i]! - 1)).toBeLessThan(0.01)
      })
    }
  })

  it('does not care for uneven stamps, within 1 %', () => {
    const reference = value(recording, protocolOf(both), 'peakTorque')
    const keep = (channel: Float64Array) => channel.filter((_, i) => i % 7 !== 3)
    const thinned = {
      ...recording,
      timeS: keep(recording.timeS),
      torqueNm: keep(recording.torqueNm),
      angleDeg: keep(recording.angleDeg),
      velocityDegS: keep(recording.velocityDegS!),
    }
    const analysis = analyseRecording(thinned, protocolOf(both))
    expect(analysis.resampled).toBe(true)
    analysis.directions.forEach(({ measures }, i) => {
      expect(Math.abs(measures.peakTorque!.best!.value! / reference[i]! - 1)).toBeLessThan(0.01)
    })
  })

  it('can be split where the limb rests', () => {
    const restSample = course.velocityDegS.findIndex((v, i) => i > 3500 && v === 0) + 200
    const part = (from: number, to: number): Recording => ({
      ...graded,
      timeS: graded.timeS.slice(from, to),
      torqueNm: graded.torqueNm.slice(from, to),
      angleDeg: graded.angleDeg.slice(from, to),
      velocityDegS: graded.velocityDegS!.slice(from, to),
    })
    const peaks = (r: Recording) =>
      analyseRecording(r, protocolOf(both)).directions.map(({ repetitions }) =>
        repetitions.map(({ measures }) => measures.peakTorque.value!),
      )
    const whole = peaks(graded)
    const first = peaks(part(0, restSample))
    const second = peaks(part(restSample, graded.timeS.length))
    whole.forEach((values, direction) => {
      const joined = [...first[direction]!, ...second[direction]!]
      expect(joined).toHaveLength(values.length)
      joined.forEach((peak, i) => expect(peak).toBeCloseTo(values[i]!, 3))
    })
  })

  it('gives the set the same statistics whatever the order of its repetitions', () => {
    const order = (strengths: readonly number[]) => {
      let movement = -1
      let last = 0
      return recordingOf(course, (angle, velocity) => {
        if (velocity > 0 && last <= 0) movement += 1
        last = velocity
        return kneeTorque(strengths[movement] ?? 0, 80)(angle, velocity)
      })
    }
    fc.assert(
      fc.property(fc.shuffledSubarray([150, 171, 188], { minLength: 3 }), (strengths) => {
        const shuffled = analyseRecording(order(strengths), protocolOf(both)).directions[0]!.measures
        const sorted = analyseRecording(order([150, 171, 188]), protocolOf(both)).directions[0]!.measures
        for (const name of ['peakTorque', 'workPerRepetition', 'averagePower'] as const) {
          for (const statistic of ['best', 'mean', 'coefficientOfVariation'] as const) {
            expect(shuffled[name]![statistic]!.value).toBeCloseTo(sorted[name]![statistic]!.value!, 4)
          }
        }
        expect(shuffled.totalWork!.total!.value).toBeCloseTo(sorted.totalWork!.total!.value!, 4)
      }),
      { seed: 20261125, numRuns: 6 },
    )
  })

  it('lets no NaN or infinity out, whatever comes in', () => {
    const sample = fc.oneof(
      { weight: 6, arbitrary: fc.double({ min: -300, max: 300 }) },
      { weight: 1, arbitrary: fc.constantFrom(Number.NaN, Infinity, -Infinity, 0, 1e308, -1e308, 5e-324) },
    )
    const channel = (n: number) => fc.array(sample, { minLength: n, maxLength: n }).map((a) => Float64Array.from(a))
    const anything = fc.integer({ min: 0, max: 120 }).chain((n) =>
      fc.record({
        timeS: fc.oneof(fc.constant(Float64Array.from({ length: n }, (_, i) => i / 100)), channel(n)),
        torqueNm: channel(n),
        angleDeg: channel(n),
        velocityDegS: fc.option(channel(n)),
        torquePositive: fc.constantFrom('extension' as const, 'flexion' as const, 'unsigned' as const),
        anglePositive: fc.constantFrom('extension' as const, 'flexion' as const),
        readingAtAnatomicalZeroDeg: fc.double({ min: -90, max: 90, noNaN: true }),
        torqueState: fc.constantFrom('measured' as const, 'gravity_corrected' as const, 'unknown' as const),
        deviceFilter: fc.constantFrom('none' as const, 'applied' as const, 'unknown' as const),
        deviceWindowing: fc.constantFrom('none' as const, 'applied' as const, 'unknown' as const),
      }),
    )
    const sets = fc.constantFrom(
      both,
      [concentric('extension', 300)],
      [{ movement: 'flexion', contractionMode: 'isokinetic_eccentric', velocityDegS: 30 }] as const,
      [{ movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 }] as const,
    )
    fc.assert(
      fc.property(anything, sets, (input, directions) => {
        const analysis = analyseRecording(input, protocolOf(directions))
        for (const number of numbersIn(analysis)) expect(Number.isFinite(number)).toBe(true)
      }),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('lets no NaN out of a moving recording with holes, spikes and huge values either', () => {
    const spoil = fc.array(
      fc.tuple(
        fc.constantFrom('torqueNm' as const, 'angleDeg' as const, 'velocityDegS' as const),
        fc.integer({ min: 0, max: recording.timeS.length - 1 }),
        fc.integer({ min: 1, max: 400 }),
        fc.constantFrom(Number.NaN, Infinity, 1e308, -1e308, 1e150, 0),
      ),
      { minLength: 1, maxLength: 6 },
    )
    fc.assert(
      fc.property(spoil, (faults) => {
        const spoilt = {
          ...recording,
          torqueNm: recording.torqueNm.slice(),
          angleDeg: recording.angleDeg.slice(),
          velocityDegS: recording.velocityDegS!.slice(),
        }
        for (const [name, at, length, bad] of faults) spoilt[name].fill(bad, at, at + length)
        const analysis = analyseRecording(spoilt, protocolOf(both))
        for (const number of numbersIn(analysis)) expect(Number.isFinite(number)).toBe(true)
      }),
      { seed: 20261125, numRuns: 40 },
    )
  })
})

describe('truth of the simulator', () => {
  const analyse = (options: Parameters<typeof simulateRecording>[0], velocity: number, dropVelocity = false) => {
    const simulated = simulateRecording({
      repetitions: 3,
      directions: [
        { muscle: 'extension', mode: 'concentric', velocityDegS: velocity },
        { muscle: 'flexion', mode: 'concentric', velocityDegS: velocity },
      ],
      torqueState: 'gravity_corrected',
      ...options,
    })
    const { truth, options: used, timeS, torqueNm, angleDeg, velocityDegS } = simulated
    const { directions } = analyseRecording(
      {
        timeS,
        torqueNm,
        angleDeg,
        velocityDegS: dropVelocity ? null : velocityDegS,
        torquePositive: used.torquePositive,
        anglePositive: used.anglePositive,
        readingAtAnatomicalZeroDeg: used.readingAtAnatomicalZeroDeg,
        torqueState: 'gravity_corrected',
        deviceFilter: 'none',
        deviceWindowing: 'none',
      },
      protocolOf([concentric('extension', velocity), concentric('flexion', velocity)]),
    )
    return truth.map((true_) => ({
      truth: true_,
      found: directions.find(({ movement }) => movement === true_.direction.muscle)!.repetitions[true_.repetition - 1]!,
    }))
  }

  it.each([
    [60, 0, 0.5, false],
    [60, 0.1, 2, false],
    [60, 0.08, 0.5, true],
    [120, 0.1, 2, false],
    [180, 0.1, 1, false],
    [180, 0.08, 0.5, true],
    [240, 0.1, 2, false],
    [300, 0.1, 1, false],
  ])(
    'is recovered at %i deg/s, overshoot %f, noise %f N.m, velocity derived: %s',
    (velocity, overshootFraction, torqueNoiseNm, derived) => {
      const options = { overshootFraction, impactTorqueNm: 150 * overshootFraction, torqueNoiseNm, seed: velocity }
      for (const { truth, found } of analyse(options, velocity, derived)) {
        if (truth.peak === null || truth.constantVelocity!.peakAtEdge) continue
        expect(found.counted).toBe('yes')
        const off = found.measures.peakTorque.value! - truth.peak.torqueNm
        // The largest of noisy samples lies above the curve: 1 % or 0.7 N.m, and half of the noise.
        expect(Math.abs(off)).toBeLessThan(Math.max(0.7, 0.01 * truth.peak.torqueNm) + torqueNoiseNm / 2)
        expect(Math.abs(found.measures.angleOfPeakTorque.value! - truth.peak.angleDeg)).toBeLessThan(3)
        expect(Math.abs(found.measures.workPerRepetition.value! / truth.band!.workJ - 1)).toBeLessThan(0.015)
      }
    },
  )

  it('does not need the filter where there is no noise', () => {
    const quiet = recordingOf(course, kneeTorque(180, 100))
    const { directions, filter } = analyseRecording(quiet, protocolOf(both, { parameters: UNFILTERED }))
    expect(filter).toBe('none')
    expect(directions[0]!.measures.peakTorque!.best!.value).toBeCloseTo(180, 3)
    expect(directions[0]!.measures.angleOfPeakTorque!.best!.value).toBeCloseTo(65, 1)
  })
})
