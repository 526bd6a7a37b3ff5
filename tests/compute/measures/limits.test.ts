import { describe, expect, it } from 'vitest'
import {
  DEFAULT_PARAMETERS,
  edgeWorkJ,
  fatigueIndexEdgesPercent,
  fatigueSlope,
  isometricPlateauNm,
  peakAtEdge,
  peakRateOfTorqueDevelopment,
  peakTorque,
  perBodyMass,
  rateOfTorqueDevelopment,
  restingTorque,
  torqueAtAngle,
  torqueOnset,
  workFatigueThirdsPercent,
} from '../../../src/compute/index.ts'
import type { Measured, Protocol, RepetitionResult } from '../../../src/compute/index.ts'
import { measureContraction } from '../../../src/compute/measures/measure-contraction.ts'
import { measureRepetition } from '../../../src/compute/measures/measure-repetition.ts'
import { allMissing, measured } from '../../../src/compute/measures/repetition-measures.ts'
import { setStatistics } from '../../../src/compute/measures/set-statistics.ts'
import { concentric, protocolOf } from '../hand-made-recording.ts'

const samples = (...values: number[]) => Float64Array.from(values)
const times = (n: number, value: number) => new Array<number>(n).fill(value)
const RAD = Math.PI / 180

describe('measures of a window at their limits', () => {
  it('work beyond the window draws its torque on in a straight line', () => {
    // 2 deg before sample 1 and 4 deg after sample 2; torque 10 then 14: drawn on to 8 and to 16.
    const torque = samples(99, 10, 14, 99)
    const angle = samples(90, 88, 85, 81)
    const edge = (startPart: number, endPart: number, from = 1, to = 2) =>
      edgeWorkJ(torque, angle, 1, 1, from, to, startPart, endPart) / RAD
    // half of either step: mean torque 10 - 1 and 14 + 1
    expect(edge(0.5, 0)).toBeCloseTo(9 * 1, 12)
    expect(edge(0, 0.5)).toBeCloseTo(15 * 2, 12)
    expect(edge(0.5, 0.5)).toBeCloseTo(39, 12)
    expect(edgeWorkJ(torque, angle, -1, 1, 1, 2, 0.5, 0.5) / RAD).toBeCloseTo(-39, 12)
    // nothing is known before the first sample, after the last, or from one sample alone
    expect(edge(0.5, 0, 0, 2)).toBe(-0)
    expect(edge(0, 0.5, 1, 3)).toBe(-0)
    expect(edge(0.5, 0.5, 1, 1)).toBe(-0)
  })

  it('a peak is fitted from five samples on, inside the stretch above its level only', () => {
    const parabola = (from: number, n: number, vertex: number) =>
      Float64Array.from({ length: n }, (_, i) => 100 - (from + i - vertex) ** 2)
    const angle = (from: number, n: number) => Float64Array.from({ length: n }, (_, i) => from + i)
    const fit = (n: number, above = 50) =>
      peakTorque(parabola(40, n, 42.25), angle(40, n), 1, 0, n - 1, above)!.angleDeg
    expect(fit(5)).toBeCloseTo(42.25, 9)
    expect(fit(4)).toBe(42)
    // vertex beyond the window: its edge
    expect(peakTorque(parabola(40, 6, 47), angle(40, 6), 1, 0, 5, 10)!.angleDeg).toBe(45)
    expect(peakTorque(parabola(40, 6, 38), angle(40, 6), 1, 0, 5, 10)!.angleDeg).toBe(40)
    // a foreign hump beyond the level or the window does not pull the fit
    const pulled = [...parabola(40, 7, 43.25), 10, 99, 99, 99]
    expect(peakTorque(samples(...pulled), angle(40, 11), 1, 0, 10, 80)!.angleDeg).toBeCloseTo(43.25, 9)
    const outside = [99, 99, ...parabola(40, 7, 43.25), 99, 99]
    expect(peakTorque(samples(...outside), angle(38, 11), 1, 2, 8, 10)!.angleDeg).toBeCloseTo(43.25, 9)
    // the sample exactly at the level belongs to it: without the two at 91 only three would be left
    expect(peakTorque(samples(50, 91, 98, 100, 98, 91, 50), angle(40, 7), 1, 0, 6, 91)!.angleDeg).toBeCloseTo(43, 9)
    const lopsided = samples(50, 91, 99, 100, 97, 91, 50)
    expect(peakTorque(lopsided, angle(40, 7), 1, 0, 6, 91)!.angleDeg).not.toBe(43)
    expect(peakTorque(lopsided, angle(40, 7), 1, 0, 6, 91.5)!.angleDeg).toBe(43)
  })

  it('a peak is near an edge within 5 % of the span, wherever the angles lie', () => {
    expect(peakAtEdge(95.4, 90, 100, 50.1)).toBe(true)
    expect(peakAtEdge(90.5, 90, 100, 5)).toBe(false)
    expect(peakAtEdge(90.49, 90, 100, 5)).toBe(true)
    expect(peakAtEdge(99.51, 90, 100, 5)).toBe(true)
  })

  it('torque at an angle is that of the first of two samples at rest there', () => {
    expect(torqueAtAngle(samples(5, 7, 9), samples(60, 60, 61), 1, 0, 2, 60)).toBe(5)
    expect(torqueAtAngle(samples(5, 7, 9), samples(58, 60, 61), 1, 0, 2, 60)).toBe(7)
  })

  it('a rate is read from the onset’s own level, at whole samples to the very last', () => {
    const line = Float64Array.from({ length: 31 }, (_, i) => 7 + 2 * i)
    expect(rateOfTorqueDevelopment(line, 1, 100, 10, 100)).toBeCloseTo(200, 9)
    expect(rateOfTorqueDevelopment(line, 1, 100, 10, 200)).toBeCloseTo(200, 9)
    expect(rateOfTorqueDevelopment(line, 1, 100, 11, 200)).toBeNull()
    // 0.29 s x 100 Hz is 28.999999999999996 in binary
    expect(rateOfTorqueDevelopment(line, 1, 100, 1, 290)).toBeCloseTo(200, 9)
    // at a step: one sample early would be 0
    expect(rateOfTorqueDevelopment(samples(...times(29, 0), 29), 1, 100, 0, 290)).toBeCloseTo(100, 9)
  })

  it('the steepest rate is looked for from the onset to 200 ms after it', () => {
    const steps = (at: number) => Float64Array.from({ length: 400 }, (_, i) => (i < at ? i : i + 50))
    const steepest = (at: number) => peakRateOfTorqueDevelopment(steps(at), 1, 500, 100)
    // 2 ms at 500 Hz is one sample; 200 ms end with sample 200
    expect(steepest(150)).toBe(51 * 500)
    expect(steepest(200)).toBe(51 * 500)
    expect(steepest(201)).toBe(500)
    expect(steepest(100)).toBe(500)
    expect(
      peakRateOfTorqueDevelopment(
        Float64Array.from({ length: 9 }, (_, i) => -3 * i),
        1,
        500,
        0,
      ),
    ).toBe(-1500)
  })

  it('fatigue needs two edges, three thirds, three points', () => {
    expect(fatigueIndexEdgesPercent([10, 9, 6, 5], 2)).toBeCloseTo((100 * (9.5 - 5.5)) / 9.5, 9)
    expect(fatigueIndexEdgesPercent([10, 9, 6], 2)).toBeNull()
    for (const edge of [0, -1, 1.5]) {
      expect(() => fatigueIndexEdgesPercent([10, 9, 6, 5], edge)).toThrow('edge must be a positive whole number')
    }
    expect(workFatigueThirdsPercent([10, 8, 5])).toBe(50)
    expect(workFatigueThirdsPercent([10, 8])).toBeNull()
    expect(workFatigueThirdsPercent([0, 8, 5])).toBeNull()
    expect(fatigueSlope([1, 2, 4], [10, 8, 4])).toBeCloseTo(-2, 12)
    expect(fatigueSlope([1, 2], [10, 8])).toBeNull()
    expect(fatigueSlope([2, 2, 2], [10, 8, 4])).toBeNull()
    expect(() => fatigueSlope([1, 2], [1, 2, 3])).toThrow('as many repetitions as values are needed')
  })

  it('body mass is positive and finite', () => {
    for (const mass of [0, -1, Infinity, NaN]) {
      expect(() => perBodyMass({ value: 1 }, mass)).toThrow('body mass must be positive')
    }
    expect(measured(null, 'why')).toEqual({ value: null, reason: 'why' })
    expect(measured(Infinity, 'why')).toEqual({ value: null, reason: 'why' })
    expect(measured(0, 'why')).toEqual({ value: 0 })
  })
})

describe('rest, onset and plateau at their limits', () => {
  it('rest needs one whole window before the contraction, not more', () => {
    // 10 samples per second: a window of 200 ms is two of them
    expect(restingTorque(samples(4, 6, 50), 1, 0, 2, 10)).toEqual({ levelNm: 5, sdNm: Math.SQRT2 })
    expect(restingTorque(samples(4, 6, 50), 1, 1, 2, 10)).toBeNull()
    expect(restingTorque(samples(1, 4, 6, 50), 1, 1, 3, 10)).toEqual({ levelNm: 5, sdNm: Math.SQRT2 })
    expect(restingTorque(samples(1, 1, 1, 1), 1, 0, 4, 5)).toBeNull()
  })

  it('rest is the first of the quietest windows of the last two seconds', () => {
    const torque = samples(3, 3, ...times(20, 0).map((_, i) => 7 * (i % 2)), 50)
    // the quiet start lies more than 2 s before
    expect(restingTorque(torque, 1, 0, 22, 10)!.levelNm).toBeCloseTo(3.5, 12)
    expect(restingTorque(torque, 1, 0, 21, 10)!.levelNm).toBeCloseTo(1.5, 12)
    expect(restingTorque(torque, 1, 0, 20, 10)).toMatchObject({ levelNm: 3, sdNm: 0 })
    expect(restingTorque(samples(5, 5, 8, 8, 50), 1, 0, 4, 10)).toEqual({ levelNm: 5, sdNm: 0 })
  })

  it('onset is the last sample not above the threshold, be it the earliest allowed', () => {
    const torque = samples(2, 3, 9, 20)
    const at = (riseNm: number, earliest = 0) =>
      torqueOnset(torque, 1, { kind: 'absolute', riseNm }, { levelNm: 2, sdNm: 0 }, 20, earliest, 3)
    expect(at(1)).toBe(1)
    expect(at(0.9)).toBe(0)
    expect(at(1, 1)).toBe(1)
    expect(at(0.9, 1)).toBeNull()
    const fraction = (percent: number) =>
      torqueOnset(torque, 1, { kind: 'fraction_of_peak', percent }, { levelNm: 2, sdNm: 0 }, 20, 0, 3)
    // 7 of the 18 N.m above rest
    expect(fraction((100 * 7.01) / 18)).toBe(2)
    expect(fraction((100 * 6.99) / 18)).toBe(1)
  })

  it('a plateau needs one whole window of two samples or more, within the spread', () => {
    const rule = (windowMs: number, maximumSpreadPercent = 10) => ({ windowMs, maximumSpreadPercent })
    expect(isometricPlateauNm(samples(95, 105), 1, 0, 1, 10, rule(200))).toBe(100)
    expect(isometricPlateauNm(samples(95, 105.1), 1, 0, 1, 10, rule(200))).toBeNull()
    expect(isometricPlateauNm(samples(95, 105), 1, 1, 1, 10, rule(200))).toBeNull()
    expect(isometricPlateauNm(samples(95, 105), 1, 0, 1, 10, rule(100))).toBeNull()
    expect(isometricPlateauNm(samples(9, 9, 95, 105, 9), 1, 2, 3, 10, rule(200))).toBe(100)
    expect(isometricPlateauNm(samples(9, 95, 105), 1, 1, 1, 10, rule(200))).toBeNull()
    expect(isometricPlateauNm(samples(-10, -10), 1, 0, 1, 10, rule(200))).toBeNull()
    expect(isometricPlateauNm(samples(0, 0), 1, 0, 1, 10, rule(200))).toBeNull()
  })
})

const NOTHING: Measured = { value: null, reason: 'samples_missing' }

describe('one repetition', () => {
  // 100 samples per second: still to sample 10, moving from 10 to 90, load range from 20 to 80 with half a sample at either end.
  const velocityDegS = Float64Array.from({ length: 101 }, (_, i) => (i > 10 && i < 90 ? 60 : 0))
  const angleDeg = Float64Array.from({ length: 101 }, (_, i) => 90 - 0.6 * Math.min(80, Math.max(0, i - 10)))
  const phases = {
    onset: 10,
    end: 90,
    loadStart: 20,
    loadEnd: 80,
    startPart: 0.5,
    endPart: 0.25,
    settledStart: 25,
    settledEnd: 75,
    overshoot: false,
  }
  const attempt = {
    movement: { sign: 1, from: 10, to: 90, rangeDeg: 48 },
    onset: 10,
    end: 90,
    phases,
    reason: null,
  } as const
  const repetition = (
    torque: (i: number) => number,
    changes: {
      attempt?: Partial<Parameters<typeof measureRepetition>[1]>
      protocol?: Partial<Protocol>
      eccentric?: boolean
      windowing?: 'applied' | 'none'
    } = {},
  ) =>
    measureRepetition(
      {
        sampleRateHz: 100,
        startS: 7,
        torqueNm: Float64Array.from({ length: 101 }, (_, i) => torque(i)),
        angleDeg,
        velocityDegS,
      },
      { ...attempt, ...changes.attempt },
      3,
      changes.eccentric === true
        ? { movement: 'flexion', contractionMode: 'isokinetic_eccentric', velocityDegS: 60 }
        : concentric('extension', 60),
      protocolOf([concentric('extension', 60)], { bodyMassKg: 50, ...changes.protocol }),
      changes.windowing ?? 'none',
    )

  it('of a constant 100 N.m is measured in closed form, times by the recording’s own clock', () => {
    const result = repetition(() => 100)
    const spanDeg = 0.6 * 60.75
    expect(result).toMatchObject({
      repetition: 3,
      counted: 'yes',
      reason: null,
      contraction: 'concentric',
      startS: 7.1,
      endS: 7.9,
      loadRange: { startS: 7.2, endS: 7.8, startAngleDeg: 84, endAngleDeg: 48 },
      riseMs: { value: 100 },
      decelerationMs: { value: 100 },
      rateOfTorqueDevelopment: [],
      peakRateOfTorqueDevelopment: { value: null, reason: 'isometric_only' },
    })
    const { measures } = result
    const value = (name: keyof typeof measures) => measures[name].value
    expect(value('peakTorque')).toBe(100)
    expect(value('workPerRepetition')).toBeCloseTo(100 * spanDeg * RAD, 9)
    expect(value('averagePower')).toBeCloseTo((100 * spanDeg * RAD) / 0.6075, 9)
    expect(value('peakPower')).toBeCloseTo(100 * 60 * RAD, 9)
    expect(value('impulse')).toBeCloseTo(60, 9)
    expect(value('timeToPeakTorque')).toBe(150)
    expect(value('rangeOfMotion')).toBe(48)
    expect(value('loadRange')).toBeCloseTo(spanDeg, 9)
    expect(value('loadRangeDuration')).toBeCloseTo(607.5, 9)
    expect(value('peakTorquePerBodyMass')).toBe(2)
    expect(value('workPerBodyMass')).toBeCloseTo((2 * spanDeg * RAD) / 1, 9)
    expect(value('averagePowerPerBodyMass')).toBeCloseTo((2 * spanDeg * RAD) / 0.6075, 9)
    expect(measures.rateOfTorqueDevelopment).toEqual({ value: null, reason: 'isometric_only' })
    expect(measures.isometricPlateauTorque).toEqual({ value: null, reason: 'isometric_only' })
    expect(result.torqueAtAngle).toEqual([
      { angleDeg: 30, torque: { value: null, reason: 'outside_load_range' } },
      { angleDeg: 60, torque: { value: 100 } },
    ])
  })

  it('has work, power and impulse over the full range where that is asked for, unless the device cut it', () => {
    const protocol = { parameters: { ...DEFAULT_PARAMETERS, workWindow: 'full_range' as const } }
    const { measures } = repetition(() => 100, { protocol })
    expect(measures.workPerRepetition.value).toBeCloseTo(100 * 48 * RAD, 9)
    expect(measures.averagePower.value).toBeCloseTo((100 * 48 * RAD) / 0.8, 9)
    expect(measures.impulse.value).toBeCloseTo(80, 9)
    const cut = repetition(() => 100, { protocol, windowing: 'applied' }).measures
    const byDevice = { value: null, reason: 'windowed_by_device' }
    expect([cut.workPerRepetition, cut.averagePower, cut.impulse, cut.workPerBodyMass]).toEqual(
      times(4, 0).map(() => byDevice),
    )
    expect(cut.peakTorque).toEqual({ value: 100 })
    expect(repetition(() => 100, { windowing: 'applied' }).measures.workPerRepetition.value).not.toBeNull()
  })

  it('flags an overshoot, and a peak at the edge of the settled part only', () => {
    const hump = (i: number) => 100 - Math.abs(i - 50)
    expect(repetition(hump).flags).toEqual([])
    expect(repetition((i) => 100 - i).flags).toEqual(['peak_torque_near_edge'])
    expect(repetition(hump, { attempt: { phases: { ...phases, overshoot: true } } }).flags).toEqual([
      'velocity_overshoot',
    ])
    expect(repetition(hump).measures.timeToPeakTorque).toEqual({ value: 400 })
  })

  it('without torque in the tested direction has nothing to measure it by', () => {
    const why = { value: null, reason: 'no_torque_in_tested_direction' }
    for (const torque of [0, -50]) {
      const { counted, reason, measures, contraction } = repetition(() => torque)
      expect([counted, reason, contraction]).toEqual(['no', why.reason, 'eccentric'])
      for (const name of [
        'peakTorque',
        'angleOfPeakTorque',
        'workPerRepetition',
        'averagePower',
        'peakPower',
      ] as const) {
        expect(measures[name]).toEqual(why)
      }
      expect([measures.timeToPeakTorque, measures.impulse]).toEqual([why, why])
      expect(measures.rangeOfMotion).toEqual({ value: 48 })
    }
  })

  it('does not count where the torque of the other muscle prevailed, by name of what happened', () => {
    const mixed = (i: number) => (i > 40 && i < 46 ? 30 : -80)
    expect(repetition(mixed)).toMatchObject({
      counted: 'no',
      reason: 'muscle_power_has_other_sign',
      contraction: 'eccentric',
      measures: { peakTorque: { value: 30 } },
    })
    expect(repetition((i) => -mixed(i), { eccentric: true })).toMatchObject({
      counted: 'no',
      reason: 'muscle_power_has_other_sign',
      contraction: 'concentric',
    })
    expect(repetition(() => -80, { eccentric: true })).toMatchObject({ counted: 'yes', contraction: 'eccentric' })
  })

  it('without a load range keeps its times and its range of motion, without samples only its times', () => {
    const none = repetition(() => 100, { attempt: { phases: null, reason: 'no_load_range' } })
    const why = { value: null, reason: 'no_load_range' }
    expect(none).toEqual({
      repetition: 3,
      startS: 7.1,
      endS: 7.9,
      rateOfTorqueDevelopment: [],
      peakRateOfTorqueDevelopment: { value: null, reason: 'isometric_only' },
      counted: 'no',
      reason: 'no_load_range',
      contraction: 'unknown',
      loadRange: null,
      riseMs: why,
      decelerationMs: why,
      measures: { ...allMissing('no_load_range'), rangeOfMotion: { value: 48 } },
      torqueAtAngle: [
        { angleDeg: 30, torque: why },
        { angleDeg: 60, torque: why },
      ],
      flags: [],
    })
    const hole = repetition(() => 100, { attempt: { phases: null, reason: 'samples_missing' } })
    expect(hole.measures).toEqual(allMissing('samples_missing'))
    expect(repetition(() => 100, { attempt: { phases: null } }).reason).toBe('no_load_range')
  })
})

describe('one isometric contraction', () => {
  // 100 samples per second: rest to sample 30, a rise of 10 N.m a sample to 100, held to sample 110.
  const torqueNm = Float64Array.from({ length: 121 }, (_, i) =>
    i <= 30 ? 0 : i <= 40 ? 10 * (i - 30) : i <= 110 ? 100 : 0,
  )
  const contraction = (
    changes: {
      torque?: Float64Array
      angle?: (i: number) => number
      earliest?: number
      to?: number
      missing?: { startS: number; endS: number }[]
    } = {},
  ) => {
    const torque = changes.torque ?? torqueNm
    return measureContraction(
      {
        sampleRateHz: 100,
        startS: 7,
        torqueNm: torque,
        angleDeg: Float64Array.from({ length: 121 }, (_, i) => changes.angle?.(i) ?? 60),
        velocityDegS: new Float64Array(121),
      },
      torque,
      { from: 35, to: changes.to ?? 110 },
      changes.earliest ?? 0,
      2,
      { movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 },
      protocolOf([{ movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 }], { bodyMassKg: 50 }),
      changes.missing ?? [],
    )
  }

  it('is measured from its onset in closed form, times by the recording’s own clock', () => {
    const result = contraction()
    expect(result).toMatchObject({
      repetition: 2,
      counted: 'yes',
      reason: null,
      startS: 7.3,
      endS: 8.1,
      contraction: 'isometric',
      loadRange: null,
      riseMs: { value: null, reason: 'isokinetic_only' },
      decelerationMs: { value: null, reason: 'isokinetic_only' },
      torqueAtAngle: [],
      flags: [],
    })
    const { measures } = result
    expect(measures.peakTorque).toEqual({ value: 100 })
    expect(measures.angleOfPeakTorque).toEqual({ value: 60 })
    expect(measures.peakTorquePerBodyMass).toEqual({ value: 2 })
    expect(measures.timeToPeakTorque).toEqual({ value: 100 })
    expect(measures.isometricPlateauTorque.value).toBeCloseTo(100, 9)
    expect(measures.rateOfTorqueDevelopment.value).toBeCloseTo(1000, 9)
    // 200 ms: a triangle of 5 and a square of 10 N.m.s
    expect(measures.impulse.value).toBeCloseTo(15, 9)
    expect(result.rateOfTorqueDevelopment.map(({ windowMs, rate }) => [windowMs, Math.round(rate.value!)])).toEqual([
      [30, 1000],
      [50, 1000],
      [100, 1000],
      [200, 500],
    ])
    expect(result.peakRateOfTorqueDevelopment.value).toBeCloseTo(1000, 9)
    expect(measures.workPerRepetition).toEqual({ value: null, reason: 'isokinetic_only' })
    expect(measures.rangeOfMotion).toEqual({ value: null, reason: 'isokinetic_only' })
  })

  it('must last as long as the window, to the very sample', () => {
    expect(contraction({ to: 50 }).rateOfTorqueDevelopment[3]!.rate.value).toBeCloseTo(500, 9)
    expect(contraction({ to: 49 }).rateOfTorqueDevelopment[3]!.rate).toEqual({
      value: null,
      reason: 'contraction_shorter_than_window',
    })
    expect(contraction({ to: 49 }).measures.impulse).toEqual({ value: null, reason: 'contraction_shorter_than_window' })
    expect(contraction({ to: 60 }).measures.isometricPlateauTorque).toEqual({ value: null, reason: 'no_plateau' })
  })

  it('without an onset begins where it was found, says so, and has no times', () => {
    const result = contraction({ earliest: 32 })
    expect(result).toMatchObject({ counted: 'yes', startS: 7.35, flags: ['onset_not_found'] })
    for (const name of ['timeToPeakTorque', 'rateOfTorqueDevelopment', 'impulse'] as const) {
      expect(result.measures[name]).toEqual({ value: null, reason: 'onset_not_found' })
    }
    expect(result.measures.peakTorque).toEqual({ value: 100 })
  })

  it('says where the limb moved by more than 5 deg', () => {
    expect(contraction({ angle: (i) => (i === 70 ? 65 : 60) }).flags).toEqual([])
    expect(contraction({ angle: (i) => (i === 110 ? 65.1 : 60) }).flags).toEqual(['limb_moved'])
    expect(contraction({ angle: (i) => (i === 35 ? 54.9 : 60) }).flags).toEqual(['limb_moved'])
    expect(contraction({ angle: (i) => (i === 111 || i === 34 ? 20 : 60) }).flags).toEqual([])
  })

  it('with a hole in it measures nothing, with one that only touches it everything', () => {
    const hole = contraction({ missing: [{ startS: 0.5, endS: 0.6 }], earliest: 32 })
    expect(hole).toMatchObject({ counted: 'no', reason: 'samples_missing', flags: [] })
    for (const name of ['peakTorque', 'angleOfPeakTorque', 'impulse', 'isometricPlateauTorque'] as const) {
      expect(hole.measures[name]).toEqual(NOTHING)
    }
    expect(contraction({ missing: [{ startS: 0, endS: 0.35 }] }).reason).toBeNull()
    expect(contraction({ missing: [{ startS: 1.1, endS: 1.2 }] }).reason).toBeNull()
  })

  it('without torque in the tested direction has none', () => {
    const result = contraction({ torque: torqueNm.map((x) => -x) })
    expect(result).toMatchObject({ counted: 'no', reason: 'no_torque_in_tested_direction', flags: [] })
    expect(result.measures.peakTorque).toEqual({ value: null, reason: 'no_torque_in_tested_direction' })
    expect(result.measures.angleOfPeakTorque).toEqual({ value: null, reason: 'no_torque_in_tested_direction' })
  })
})

describe('statistics of a set', () => {
  const parameters = { ...DEFAULT_PARAMETERS, fatigue: { edgeRepetitions: 1, minimumRepetitions: 3 } }
  const result = (
    repetition: number,
    changes: Partial<RepetitionResult['measures']>,
    more: Partial<RepetitionResult> = {},
  ) =>
    ({
      repetition,
      counted: 'yes',
      reason: null,
      measures: { ...allMissing('isometric_only'), ...changes },
      torqueAtAngle: [
        { angleDeg: 30, torque: { value: null, reason: 'outside_load_range' } },
        { angleDeg: 60, torque: { value: 10 * repetition } },
      ],
      ...more,
    }) as RepetitionResult
  const peaks = (...values: (number | null)[]) =>
    values.map((value, i) =>
      result(i + 1, {
        peakTorque: value === null ? NOTHING : { value },
        angleOfPeakTorque: { value: 50 + i },
        workPerRepetition: value === null ? NOTHING : { value: 2 * value },
      }),
    )
  const of = (repetitions: readonly RepetitionResult[]) => setStatistics(repetitions, parameters)

  it('keep the first of two equal bests, and the angle of that repetition', () => {
    const { measures } = of(peaks(90, 100, 100))
    expect(measures.peakTorque).toEqual({
      best: { value: 100, repetition: 2, n: 3 },
      mean: { value: 290 / 3, n: 3 },
      coefficientOfVariation: { value: expect.closeTo(5.9725, 3) as number, n: 3 },
    })
    expect(measures.angleOfPeakTorque).toEqual({
      best: { value: 51, repetition: 2, n: 3 },
      mean: { value: 51, n: 3 },
    })
    expect(measures.totalWork).toEqual({ total: { value: 580, n: 3 } })
    expect(measures.fatigueIndexEdges).toEqual({ total: { value: expect.closeTo(-100 / 9, 9) as number, n: 3 } })
    expect(measures.workFatigueThirds!.total!.value).toBeCloseTo(-100 / 9, 9)
    expect(measures.fatigueSlope!.total!.value).toBeCloseTo(5, 9)
  })

  it('take best, mean and variation over what is there, and no sum or slope over a hole', () => {
    const { measures } = of(peaks(90, null, 100, 110))
    expect(measures.peakTorque!.best).toEqual({ value: 110, repetition: 4, n: 3 })
    expect(measures.peakTorque!.mean).toEqual({ value: 100, n: 3 })
    expect(measures.peakTorque!.coefficientOfVariation).toEqual({ value: 10, n: 3 })
    for (const name of ['totalWork', 'fatigueIndexEdges', 'workFatigueThirds', 'fatigueSlope'] as const) {
      expect(measures[name]).toEqual({ total: NOTHING })
    }
  })

  it('need the smallest number of repetitions for fatigue, two for a variation', () => {
    const two = of(peaks(90, 100)).measures
    for (const name of ['fatigueIndexEdges', 'workFatigueThirds', 'fatigueSlope'] as const) {
      expect(two[name]).toEqual({ total: { value: null, reason: 'too_few_repetitions', n: 2 } })
    }
    expect(two.totalWork).toEqual({ total: { value: 380, n: 2 } })
    const one = of(peaks(90)).measures
    expect(one.peakTorque!.coefficientOfVariation).toEqual({ value: null, reason: 'too_few_repetitions', n: 1 })
  })

  it('give torque at each angle its own statistics and reason', () => {
    expect(of(peaks(90, 100)).torqueAtAngle).toEqual([
      {
        angleDeg: 30,
        best: { value: null, reason: 'outside_load_range' },
        mean: { value: null, reason: 'outside_load_range' },
      },
      { angleDeg: 60, best: { value: 20, repetition: 2, n: 2 }, mean: { value: 15, n: 2 } },
    ])
    expect(of([result(1, {}, { torqueAtAngle: [] })]).torqueAtAngle[0]!.best).toEqual({
      value: null,
      reason: 'isokinetic_only',
    })
  })

  it('leave out what does not count, and name the one reason where nothing does', () => {
    const refused = (reason: string) => result(9, { peakTorque: { value: 500 } }, { counted: 'no', reason })
    expect(of([...peaks(90, 100), refused('pain')]).measures.peakTorque!.best).toMatchObject({ value: 100, n: 2 })
    const why = (repetitions: readonly RepetitionResult[]) => {
      const { measures, torqueAtAngle } = of(repetitions)
      const reasons = [
        measures.peakTorque!.best,
        measures.peakTorque!.mean,
        measures.peakTorque!.coefficientOfVariation,
        measures.angleOfPeakTorque!.best,
        measures.totalWork!.total,
        measures.fatigueSlope!.total,
        torqueAtAngle[0]!.best,
        torqueAtAngle[1]!.mean,
      ]
      const [first] = reasons
      for (const each of reasons) expect(each).toEqual(first)
      return first
    }
    expect(why([])).toEqual({ value: null, reason: 'no_repetition_found' })
    expect(why([refused('pain'), refused('pain')])).toEqual({ value: null, reason: 'pain' })
    expect(why([refused('pain'), refused('aborted')])).toEqual({ value: null, reason: 'no_counted_repetition' })
  })
})
