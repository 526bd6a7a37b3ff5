import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  analyseRecording,
  clippedRun,
  DEFAULT_PARAMETERS,
  differentiate,
  fillMissing,
  looksLikeRadians,
  meanMusclePowerW,
  readTimeBase,
  resampleEvenly,
  velocityFactor,
} from '../../../src/compute/index.ts'
import type { Recording } from '../../../src/compute/index.ts'
import { noiseSd, quietCutoffHz } from '../../../src/compute/signal/noise.ts'
import { concentric, kneeTorque, protocolOf, recordingOf, trapezoids } from '../hand-made-recording.ts'

const limits = DEFAULT_PARAMETERS.recording
const times = (n: number, rate: number) => Float64Array.from({ length: n }, (_, i) => i / rate)
const course = trapezoids([90, 5, 90, 5, 90], 60, 2000)
const both = [concentric('extension', 60), concentric('flexion', 60)]
const plain = recordingOf(course, kneeTorque(180, 100))
const analyse = (changes: Partial<Recording>) => analyseRecording({ ...plain, ...changes }, protocolOf(both))
const codes = (changes: Partial<Recording>) => analyse(changes).findings.map(({ code }) => code)
const peak = (changes: Partial<Recording>) => analyse(changes).directions[0]!.measures.peakTorque!.best!

describe('time base', () => {
  it.each([50, 100, 333.3333, 1000, 5000])('reads an even %f Hz and leaves the samples where they are', (rate) => {
    const base = readTimeBase(times(500, rate), limits)
    expect(base).toMatchObject({ uneven: false, length: 500, gaps: [], duplicates: 0 })
    expect('refused' in base ? 0 : base.sampleRateHz / rate).toBeCloseTo(1, 9)
  })

  it.each([
    ['too few samples', times(9, 100), 'too_few_samples'],
    ['a stamp that is not a number', times(50, 100).with(20, Number.NaN), 'time_not_finite'],
    ['an infinite stamp', times(50, 100).with(49, Infinity), 'time_not_finite'],
    ['time that runs back', times(50, 100).with(20, 0.1), 'time_not_monotonic'],
    ['49 Hz', times(500, 49), 'sample_rate_out_of_range'],
    ['5001 Hz', times(500, 5001), 'sample_rate_out_of_range'],
    ['a recording with a hole longer than itself', times(50, 100).with(49, 1.2), 'too_many_samples_missing'],
    ['one stamp repeated throughout', new Float64Array(50), 'too_few_samples'],
  ])('refuses %s', (_what, timeS, reason) => {
    expect(readTimeBase(timeS, limits)).toEqual({ refused: reason })
  })

  it('finds gaps in time and counts repeated stamps', () => {
    const gap = Float64Array.from([...times(300, 1000)].filter((_, i) => i < 100 || i >= 150))
    expect(readTimeBase(gap, limits)).toMatchObject({
      uneven: true,
      length: 300,
      gaps: [{ startS: 0.099, endS: 0.15 }],
    })
    const repeated = Float64Array.from([0, 0.01, 0.01, ...times(50, 100).map((t) => t + 0.02)])
    expect(readTimeBase(repeated, limits)).toMatchObject({ duplicates: 1, uneven: true })
  })

  it('does not read two alternating intervals as one of them', () => {
    const alternating = Float64Array.from({ length: 4001 }, (_, i) => Math.floor(i / 2) * 0.004 + (i % 2) * 0.001)
    const base = readTimeBase(alternating, limits)
    expect('refused' in base ? 0 : base.sampleRateHz).toBeCloseTo(500, 6)
  })

  it('resamples straight lines exactly, whatever the stamps', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.6, max: 1.4, noNaN: true }), { minLength: 30, maxLength: 80 }),
        (steps) => {
          let t = 0
          const timeS = Float64Array.from(steps, (step) => (t += step / 100))
          const values = timeS.map((at) => 3 * at - 1)
          const base = readTimeBase(timeS, limits)
          if ('refused' in base) throw new Error(base.refused)
          const even = resampleEvenly(timeS, values, base)
          even.forEach((value, i) => {
            const at = Math.min(base.startS + i / base.sampleRateHz, timeS.at(-1)!)
            expect(value).toBeCloseTo(3 * at - 1, 9)
          })
        },
      ),
      { seed: 20261125, numRuns: 60 },
    )
  })
})

describe('missing values', () => {
  it('joins short holes by straight lines and leaves the input alone', () => {
    const x = Float64Array.of(1, Number.NaN, 3, Infinity, Number.NaN, 6)
    expect(fillMissing(x, 1000, 20)).toEqual({ values: Float64Array.of(1, 2, 3, 4, 5, 6), filled: 3, gaps: [] })
    expect(x[1]).toBeNaN()
  })

  it('fills the ends with the nearest value and reports holes that are too long', () => {
    const x = new Float64Array(60).fill(Number.NaN).with(30, 7)
    const { values, filled, gaps } = fillMissing(x, 1000, 20)
    expect(values).toEqual(new Float64Array(60).fill(7))
    expect(filled).toBe(59)
    expect(gaps).toHaveLength(2)
  })

  it('has no answer where nothing is a number', () => {
    expect(fillMissing(new Float64Array(20).fill(Number.NaN), 1000, 20).values).toBeNull()
  })
})

describe('derivative', () => {
  it('is exact for a parabola, ends included', () => {
    const x = Float64Array.from({ length: 12 }, (_, i) => 2 * (i / 100) ** 2 - i / 100)
    differentiate(x, 100).forEach((slope, i) => expect(slope).toBeCloseTo((4 * i) / 100 - 1, 9))
    expect(() => differentiate(new Float64Array(2), 100)).toThrow(RangeError)
    expect(() => differentiate(new Float64Array(5), 0)).toThrow(RangeError)
  })
})

describe('screens', () => {
  it('tells a clipped top from a rounded one and from one that levels off', () => {
    const hump = Float64Array.from({ length: 1000 }, (_, i) => 100 * Math.sin((Math.PI * i) / 999))
    expect(clippedRun(hump, 5)).toBe(0)
    expect(
      clippedRun(
        hump.map((x) => Math.min(x, 80)),
        5,
      ),
    ).toBeGreaterThan(300)
    expect(
      clippedRun(
        hump.map((x) => -Math.min(x, 80)),
        5,
      ),
    ).toBeGreaterThan(300)
    expect(clippedRun(hump.map(Math.round), 5)).toBe(0)
    expect(
      clippedRun(
        Float64Array.from({ length: 9000 }, (_, i) => 200 * (1 - Math.exp(-i / 100))),
        5,
      ),
    ).toBe(0)
    expect(clippedRun(new Float64Array(50), 5)).toBe(0)
  })

  it('suspects radians only where range and speed both say so', () => {
    expect(looksLikeRadians({ range: 1.57, fastest: 1.05, setVelocityDegS: 60 })).toBe(true)
    expect(looksLikeRadians({ range: 90, fastest: 60, setVelocityDegS: 60 })).toBe(false)
    expect(looksLikeRadians({ range: 3, fastest: 60, setVelocityDegS: 60 })).toBe(false)
    expect(looksLikeRadians({ range: 1.57, fastest: 1.05, setVelocityDegS: 0 })).toBe(false)
  })

  it('finds the factor between a recorded and a derived velocity', () => {
    expect(velocityFactor(Float64Array.of(0, -60, -60), Float64Array.of(0, 60, 60))).toBe(-1)
    expect(velocityFactor(new Float64Array(3), new Float64Array(3))).toBeNull()
  })

  it('gives mean muscle power in watts over the moving samples only', () => {
    const torque = Float64Array.of(100, 100, 900)
    const velocity = Float64Array.of(180 / Math.PI, 180 / Math.PI, 1)
    expect(meanMusclePowerW(torque, velocity, 6)).toBeCloseTo(100, 12)
    expect(meanMusclePowerW(torque, new Float64Array(3), 6)).toBeNull()
  })

  it('estimates white noise on a moving angle, and the cutoff that keeps its derivative quiet', () => {
    let state = 7
    const uniform = () => (state = (state * 16807) % 2147483647) / 2147483647
    const normal = () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())
    const angle = Float64Array.from({ length: 5000 }, (_, i) => i * 0.06 + 0.05 * normal())
    expect(noiseSd(angle)).toBeGreaterThan(0.044)
    expect(noiseSd(angle)).toBeLessThan(0.056)
    expect(quietCutoffHz(0.1, 1, 1000)).toBeCloseTo(15.6, 1)
    expect(quietCutoffHz(0, 1, 1000)).toBe(Infinity)
  })
})

describe('a recording with faults', () => {
  it('is not touched by a hole of a few samples, and says so', () => {
    const torqueNm = plain.torqueNm.slice()
    torqueNm.fill(Number.NaN, 1200, 1205)
    expect(codes({ torqueNm })).toContain('values_missing')
    expect(peak({ torqueNm }).value).toBeCloseTo(peak({}).value!, 1)
  })

  it('does not count the repetition a long hole touches, and counts the others', () => {
    const torqueNm = plain.torqueNm.slice()
    torqueNm.fill(Number.NaN, 1000, 1050)
    const { counted, notCounted } = analyse({ torqueNm }).directions[0]!
    expect(counted).toBe(1)
    expect(notCounted).toEqual([{ repetition: 1, reason: 'samples_missing' }])
  })

  it('does not count a repetition across a gap in time', () => {
    const keep = (channel: Float64Array) => Float64Array.from([...channel].filter((_, i) => i < 1000 || i >= 1060))
    const cut = {
      timeS: keep(plain.timeS),
      torqueNm: keep(plain.torqueNm),
      angleDeg: keep(plain.angleDeg),
      velocityDegS: keep(plain.velocityDegS!),
    }
    expect(codes(cut)).toEqual(expect.arrayContaining(['samples_missing', 'uneven_time_resampled']))
    expect(analyse(cut).directions[0]!.notCounted).toEqual([{ repetition: 1, reason: 'samples_missing' }])
  })

  it('holds what looks saturated', () => {
    expect(codes({})).not.toContain('torque_saturated')
    const torqueNm = plain.torqueNm.map((x) => Math.min(x, 150))
    expect(analyse({ torqueNm }).findings).toContainEqual(
      expect.objectContaining({ code: 'torque_saturated', level: 'hold' }),
    )
  })

  it('holds an angle in radians', () => {
    const angleDeg = plain.angleDeg.map((x) => (x * Math.PI) / 180)
    const { findings, directions } = analyse({ angleDeg, velocityDegS: null })
    expect(findings).toContainEqual(expect.objectContaining({ code: 'possible_angle_in_radians', level: 'hold' }))
    expect(directions[0]!.measures.peakTorque!.best).toEqual({ value: null, reason: 'no_repetition_found' })
  })

  it('holds a sign that contradicts the protocol, and counts nothing', () => {
    const { findings, directions } = analyse({ torquePositive: 'flexion' })
    expect(findings).toContainEqual(expect.objectContaining({ code: 'sign_convention_doubtful', level: 'hold' }))
    expect(directions.map(({ counted }) => counted)).toEqual([0, 0])
  })

  it('prefers the angle to a velocity that contradicts it', () => {
    for (const factor of [-1, Math.PI / 180]) {
      const velocityDegS = plain.velocityDegS!.map((v) => factor * v)
      const { findings, velocitySource } = analyse({ velocityDegS })
      expect(findings.map(({ code }) => code)).toContain('velocity_contradicts_angle')
      expect(velocitySource).toBe('derived_from_angle')
      expect(peak({ velocityDegS }).value).toBeCloseTo(peak({}).value!, 1)
    }
  })

  it('reads the same knee from either sign of torque and angle, and from any zero reading', () => {
    const mirrored = {
      torqueNm: plain.torqueNm.map((x) => -x),
      angleDeg: plain.angleDeg.map((x) => 90 - x),
      velocityDegS: plain.velocityDegS!.map((x) => -x),
      torquePositive: 'flexion',
      anglePositive: 'extension',
      readingAtAnatomicalZeroDeg: 90,
    } as const
    const one = analyse({}).directions
    const other = analyse(mirrored).directions
    one.forEach((direction, i) => {
      for (const name of ['peakTorque', 'angleOfPeakTorque', 'workPerRepetition'] as const) {
        expect(other[i]!.measures[name]!.best!.value).toBeCloseTo(direction.measures[name]!.best!.value!, 6)
      }
    })
  })

  it('gives unsigned torque the sign of the movement, with a caution', () => {
    const torqueNm = plain.torqueNm.map(Math.abs)
    expect(analyse({ torqueNm, torquePositive: 'unsigned' }).findings).toContainEqual(
      expect.objectContaining({ code: 'torque_unsigned', level: 'caution' }),
    )
    expect(peak({ torqueNm, torquePositive: 'unsigned' }).value).toBeCloseTo(peak({}).value!, 1)
  })

  it.each([
    ['all torque missing', { torqueNm: plain.torqueNm.map(() => Number.NaN) }, 'no_torque_values'],
    ['all angles missing', { angleDeg: plain.angleDeg.map(() => Number.NaN) }, 'no_angle_values'],
    ['time running back', { timeS: plain.timeS.toReversed() }, 'time_not_monotonic'],
    ['another pair of movements', { anglePositive: 'abduction' as const }, 'movement_pair_differs'],
  ])('has a reason on every measure with %s', (_what, changes, reason) => {
    const { directions, findings } = analyse(changes)
    expect(findings).toEqual([expect.objectContaining({ code: reason, level: 'hold' })])
    for (const { measures, torqueAtAngle, counted } of directions) {
      expect(counted).toBe(0)
      for (const statistics of Object.values(measures)) {
        for (const value of Object.values(statistics)) expect(value).toEqual({ value: null, reason })
      }
      for (const row of torqueAtAngle) expect(row.best).toEqual({ value: null, reason })
    }
  })

  it('calls channels of different length the caller’s mistake', () => {
    expect(() => analyse({ torqueNm: new Float64Array(5) })).toThrow(RangeError)
    expect(() => analyse({ readingAtAnatomicalZeroDeg: Number.NaN })).toThrow(RangeError)
  })

  it('is not filtered twice', () => {
    const applied = analyse({ deviceFilter: 'applied' })
    expect(applied.filter).toBe('none')
    expect(applied.findings.map(({ code }) => code)).toContain('filtered_by_device')
    expect(analyse({ deviceFilter: 'unknown' }).findings.map(({ code }) => code)).toContain('device_filter_unknown')
    expect(analyse({}).filter).toMatchObject({ kind: 'butterworth_zero_phase', orderPerPass: 2, cutoffHz: 12 })
  })

  it('stays unfiltered, with a caution, where the cutoff is too near Nyquist', () => {
    const slow = trapezoids([90, 5, 90], 60, 2000, 0.4, 50)
    const parameters = {
      ...DEFAULT_PARAMETERS,
      filter: { ...DEFAULT_PARAMETERS.filter, cutoffs: [{ upToDegS: 500, cutoffHz: 22 }] },
    } as typeof DEFAULT_PARAMETERS
    const { filter, findings } = analyseRecording(
      recordingOf(slow, kneeTorque(180, 100)),
      protocolOf(both, { parameters }),
    )
    expect(filter).toBe('none')
    expect(findings).toContainEqual(expect.objectContaining({ code: 'cutoff_too_near_nyquist', level: 'caution' }))
  })
})
