import { describe, expect, it } from 'vitest'
import {
  butterworthLowpass,
  clippedRun,
  cutoffForSet,
  DEFAULT_PARAMETERS,
  designZeroPhaseLowpass,
  differentiate,
  dualPassDesignCutoffHz,
  edgePadding,
  fillMissing,
  filterLoadRange,
  looksLikeRadians,
  meanMusclePowerW,
  movementPair,
  movementSign,
  passCorrection,
  readTimeBase,
  resampleEvenly,
  velocityFactor,
  zeroPhaseFilter,
} from '../../../src/compute/index.ts'
import type { DirectionProtocol, Movement, Recording } from '../../../src/compute/index.ts'
import { limbKinematics } from '../../../src/compute/signal/limb-kinematics.ts'
import {
  filterTorque,
  lightlyFilteredTorque,
  muscleTorque,
  screenPowerSign,
} from '../../../src/compute/signal/muscle-torque.ts'
import { noiseSd, quietCutoffHz } from '../../../src/compute/signal/noise.ts'
import { prepareRecording } from '../../../src/compute/signal/prepare-recording.ts'
import { smooth } from '../../../src/compute/signal/smooth.ts'
import { concentric, UNFILTERED } from '../hand-made-recording.ts'

const samples = (...values: number[]) => Float64Array.from(values)
const limits = DEFAULT_PARAMETERS.recording
const filter = DEFAULT_PARAMETERS.filter as Extract<
  typeof DEFAULT_PARAMETERS.filter,
  { kind: 'butterworth_zero_phase' }
>

describe('the time base at its limits', () => {
  // 64 samples per second: every stamp is exact in binary.
  const stamps = (...steps: number[]) => {
    let t = 5
    return Float64Array.from([5, ...steps.map((step) => (t += step / 64))])
  }
  const even = (n: number) => new Array<number>(n).fill(1)

  it('takes ten different stamps, wherever the clock began', () => {
    expect(readTimeBase(stamps(...even(9)), limits)).toEqual({
      sampleRateHz: 64,
      startS: 5,
      length: 10,
      uneven: false,
      duplicates: 0,
      gaps: [],
    })
    expect(readTimeBase(stamps(...even(8)), limits)).toEqual({ refused: 'too_few_samples' })
    expect(readTimeBase(stamps(...even(8), 0), limits)).toEqual({ refused: 'too_few_samples' })
    expect(readTimeBase(stamps(...even(9), 0), limits)).toMatchObject({ duplicates: 1, length: 10, uneven: true })
  })

  it('takes an interval of three typical ones into the mean, and no longer one', () => {
    const three = readTimeBase(stamps(...even(9), 3, ...even(9)), limits)
    expect('refused' in three ? NaN : three.sampleRateHz).toBeCloseTo((64 * 19) / 21, 9)
    expect(readTimeBase(stamps(...even(9), 3.5, ...even(9)), limits)).toHaveProperty('sampleRateHz', 64)
  })

  it('calls a gap what is longer than the gap allowed and one interval more', () => {
    const allowed = { ...limits, maximumGapMs: 1000 / 64 }
    expect(readTimeBase(stamps(...even(15), 2, ...even(15)), allowed)).toMatchObject({ gaps: [], uneven: true })
    const long = readTimeBase(stamps(...even(15), 2.5, ...even(15)), allowed)
    expect(long).toMatchObject({ gaps: [{ startS: 5 + 15 / 64, endS: 5 + 17.5 / 64 }] })
  })

  it('is uneven beyond 1 % of an interval', () => {
    expect(readTimeBase(stamps(...even(9), 1.009, 0.991, ...even(9)), limits)).toHaveProperty('uneven', false)
    expect(readTimeBase(stamps(...even(9), 1.011, 0.989, ...even(9)), limits)).toHaveProperty('uneven', true)
    expect(readTimeBase(stamps(...even(9), 0.989, 1.011, ...even(9)), limits)).toHaveProperty('uneven', true)
  })

  it('refuses a grid of more than twice the samples, not one of twice', () => {
    const last = (step: number) => readTimeBase(stamps(...even(18), step), limits)
    expect(last(21)).toHaveProperty('length', 40)
    expect(last(22)).toEqual({ refused: 'too_many_samples_missing' })
  })

  it('puts a jump where its stamps say, and holds the last value there', () => {
    const grid = { sampleRateHz: 2, startS: 0, length: 5 }
    const jump = resampleEvenly(samples(0, 1, 1, 2), samples(0, 10, 20, 30), grid)
    expect(jump).toEqual(samples(0, 5, 20, 25, 30))
    const atTheEnd = resampleEvenly(samples(0, 1, 2, 2), samples(0, 10, 20, 30), grid)
    expect(atTheEnd.subarray(0, 4)).toEqual(samples(0, 5, 10, 15))
    expect(atTheEnd[4]).toBe(20)
    expect(resampleEvenly(samples(3, 4, 5), samples(1, 2, 4), { sampleRateHz: 2, startS: 3, length: 5 })).toEqual(
      samples(1, 1.5, 2, 3, 4),
    )
  })
})

describe('holes at their limits', () => {
  it('are gaps beyond the longest allowed, and reach from the last sample to the next', () => {
    const hole = (n: number) => samples(1, 1, ...new Array<number>(n).fill(NaN), 1, 1)
    expect(fillMissing(hole(2), 100, 20)).toMatchObject({ filled: 2, gaps: [] })
    expect(fillMissing(hole(3), 100, 20)).toMatchObject({ filled: 3, gaps: [{ startS: 0.01, endS: 0.05 }] })
  })

  it('count a value as missing beyond the largest, not at it', () => {
    expect(fillMissing(samples(1, 10, -10, 3), 100, 20, 10)).toMatchObject({ filled: 0 })
    expect(fillMissing(samples(1, 10.1, -10.1, 4), 100, 20, 10)).toEqual({
      values: samples(1, 2, 3, 4),
      filled: 2,
      gaps: [],
    })
  })

  it('at either end take the nearest value, and over everything leave nothing', () => {
    expect(fillMissing(samples(NaN, NaN, 3, 5, NaN), 100, 20).values).toEqual(samples(3, 3, 3, 5, 5))
    expect(fillMissing(samples(NaN, NaN), 100, 20)).toEqual({
      values: null,
      filled: 2,
      gaps: [{ startS: 0, endS: 0.02 }],
    })
  })
})

describe('screens at their limits', () => {
  const top = (n: number) => new Array<number>(n).fill(9)

  it('see a clipped top of the smallest length, and the longest of several', () => {
    expect(clippedRun(samples(0, 3, 7.5, ...top(5), 7.2, 3.3), 5)).toBe(5)
    expect(clippedRun(samples(0, 3, 7.5, ...top(5), 7.2, 3.3), 6)).toBe(0)
    expect(clippedRun(samples(0, 1, ...top(5), 1, 0, ...top(6), 0, 0), 5)).toBe(6)
    expect(clippedRun(samples(0, 1, ...top(6), 1, 0, ...top(5), 0, 0), 5)).toBe(6)
    expect(clippedRun(samples(0, -1, ...top(5).map((x) => -x), -1, 0), 5)).toBe(5)
  })

  it('want it entered and left by two steps of the resolution, seen over two samples', () => {
    expect(clippedRun(samples(0, 1, 7, 8, ...top(5), 0, 0), 5)).toBe(5)
    expect(clippedRun(samples(0, 1, 8, 8, ...top(5), 0, 0), 5)).toBe(0)
    expect(clippedRun(samples(0, 0, ...top(5), 8, 7, 1, 0), 5)).toBe(5)
    expect(clippedRun(samples(0, 0, ...top(5), 8, 8, 1, 0), 5)).toBe(0)
  })

  it('cannot tell at the very start or end of a recording', () => {
    expect(clippedRun(samples(0, ...top(5), 0, 0), 5)).toBe(0)
    expect(clippedRun(samples(0, 0, ...top(5), 0), 5)).toBe(0)
    expect(clippedRun(samples(), 5)).toBe(0)
    // a rest below the largest value is no clipped top
    expect(clippedRun(samples(0, 0, 5, 5, 5, 5, 5, 0, 9, 0, 0), 5)).toBe(0)
  })

  it('suspect radians within a quarter of the set velocity, below 2 pi of range', () => {
    const suspected = (part: number, range = 1.5) =>
      looksLikeRadians({ range, fastest: (part * 60 * Math.PI) / 180, setVelocityDegS: 60 })
    expect([0.74, 0.76, 1, 1.34, 1.36].map((part) => suspected(part))).toEqual([false, true, true, true, false])
    expect(suspected(1, 2 * Math.PI)).toBe(false)
    expect(suspected(1, 6.28)).toBe(true)
  })

  it('find half of the velocity as one half, whatever is at rest', () => {
    expect(velocityFactor(samples(0, 30, -30, 15), samples(0, 60, -60, 30))).toBe(0.5)
  })

  it('take a sample into the mean power from the moving speed on, in either direction', () => {
    const watts = Math.PI / 180
    expect(meanMusclePowerW(samples(100, 7), samples(6, 5.9), 6)).toBeCloseTo(600 * watts, 12)
    expect(meanMusclePowerW(samples(100, 50), samples(-6, 6), 6)).toBeCloseTo(-150 * watts, 12)
  })

  it('read the noise from the second difference, and no signal shorter than three', () => {
    const zigzag = Float64Array.from({ length: 9 }, (_, i) => i % 2)
    expect(noiseSd(zigzag)).toBeCloseTo(2 / (0.6745 * Math.sqrt(6)), 12)
    expect(noiseSd(samples(0, 1, 0))).toBeCloseTo(2 / (0.6745 * Math.sqrt(6)), 12)
    expect(noiseSd(samples(1, 3, 5, 7))).toBe(0)
    // the median of 5, 5, 0, 0 in any order
    expect(noiseSd(samples(0, 0, 5, 5, 5, 5))).toBeCloseTo(5 / (0.6745 * Math.sqrt(6)), 12)
    expect(() => noiseSd(samples(0, 1))).toThrow('noise needs at least 3 samples')
    expect(quietCutoffHz(0, 0, 500)).toBe(Infinity)
    // noise of SD s, low-passed at fc and differentiated, has SD 2 pi s fc sqrt(2 fc / (3 fs))
    const cutoff = quietCutoffHz(0.05, 0.7, 500)
    expect(2 * Math.PI * 0.05 * cutoff * Math.sqrt((2 * cutoff) / (3 * 500))).toBeCloseTo(0.7, 12)
  })
})

describe('the derivative at its limits', () => {
  it('needs three samples and a rate', () => {
    expect(differentiate(samples(0, 1, 4), 1)).toEqual(samples(0, 2, 4))
    expect(() => differentiate(samples(0, 1), 1)).toThrow('differentiation needs at least 3 samples')
    expect(() => differentiate(samples(0, 1, 4), 0)).toThrow('sample rate must be positive')
  })
})

describe('filter designs at their limits', () => {
  it('want an even order, a rate, and a cutoff between 0 and Nyquist', () => {
    for (const order of [0, 1, 3, 2.5, -2, NaN]) {
      expect(() => butterworthLowpass(order, 10, 100)).toThrow('order must be even and positive')
      expect(() => passCorrection(order, 2)).toThrow('order must be even and positive')
    }
    for (const cutoff of [0, -1, 50, NaN]) {
      expect(() => butterworthLowpass(2, cutoff, 100)).toThrow('cutoff must lie between 0 and Nyquist')
      expect(() => dualPassDesignCutoffHz(cutoff, 100, 2)).toThrow('cutoff must lie between 0 and Nyquist')
    }
    expect(() => butterworthLowpass(2, 10, 0)).toThrow('sample rate must be positive')
    expect(butterworthLowpass(2, 49.9, 100)).toHaveLength(1)
    expect(butterworthLowpass(6, 10, 100)).toHaveLength(3)
  })

  it('correct for 1 to 4 passes as tabulated (Winter 2009 for order 2)', () => {
    const printed = [1, 0.802243, 0.71402, 0.65953]
    printed.forEach((value, i) => expect(passCorrection(2, i + 1)).toBeCloseTo(value, 6))
    expect(passCorrection(4, 2)).toBeCloseTo(0.89568, 6)
    for (const passes of [0, 1.5, -1])
      expect(() => passCorrection(2, passes)).toThrow('passes must be a positive integer')
  })

  it('are refused from 0.45 of the sample rate on, after the correction', () => {
    // tan(0.45 pi) x 0.802243 = tan(pi 43.79 / 100)
    const nearest = (100 / Math.PI) * Math.atan(Math.tan(0.45 * Math.PI) * passCorrection(2, 2))
    expect(designZeroPhaseLowpass(nearest - 0.001, 100, 2)).toHaveProperty('designCutoffHz')
    expect(designZeroPhaseLowpass(nearest + 0.001, 100, 2)).toEqual({ refused: 'cutoff_too_near_nyquist' })
    expect(designZeroPhaseLowpass(50, 100, 2)).toEqual({ refused: 'cutoff_too_near_nyquist' })
    expect(designZeroPhaseLowpass(80, 100, 2)).toEqual({ refused: 'cutoff_too_near_nyquist' })
    for (const cutoff of [0, -3, NaN]) expect(() => designZeroPhaseLowpass(cutoff, 100, 2)).toThrow(RangeError)
  })

  it('need one sample more than the padding', () => {
    const design = designZeroPhaseLowpass(10, 100, 2)
    if ('refused' in design) throw new Error(design.refused)
    expect(edgePadding(2)).toBe(9)
    expect(() => zeroPhaseFilter(new Float64Array(9), design)).toThrow('the signal must be longer than 9 samples')
    expect(zeroPhaseFilter(new Float64Array(10).fill(3), design)).toHaveLength(10)
    expect(smooth(new Float64Array(9), 10, 100, 2, 'torque')).toMatchObject({
      design: null,
      findings: [{ code: 'too_few_samples', level: 'caution', detail: 'The torque was not filtered at 10 Hz.' }],
    })
    expect(smooth(new Float64Array(10), 10, 100, 2, 'torque')).toMatchObject({ design: { cutoffHz: 10 }, findings: [] })
  })
})

describe('the cutoff of a set', () => {
  const direction = (velocityDegS: number): DirectionProtocol => concentric('extension', velocityDegS)
  const isometric: DirectionProtocol = { movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 }

  it('is that of the fastest direction, each row up to its own velocity', () => {
    const cutoffs = [30, 60, 60.1, 120, 180, 240, 241, 500, 501].map((v) => cutoffForSet(filter, [direction(v)]))
    expect(cutoffs).toEqual([12, 12, 14, 14, 16, 18, 20, 20, 20])
    expect(cutoffForSet(filter, [direction(60), direction(180)])).toBe(16)
    expect(cutoffForSet(filter, [direction(180), direction(60)])).toBe(16)
  })

  it('is not reached by a set that holds still in one of its directions alone', () => {
    const still = { ...isometric, movement: 'flexion' } as const
    const contradicting = prepare({ velocityDegS: recorded().velocityDegS!.map((v) => -v) })
    const source = (directions: readonly DirectionProtocol[]) =>
      limbKinematics(contradicting, directions, filter, 'none').velocitySource
    expect(source([still])).toBe('recorded')
    expect(source([still, direction(20)])).toBe('derived_from_angle')
  })

  it('is the isometric one only where all is isometric, and a table without rows is a mistake', () => {
    expect(cutoffForSet(filter, [isometric])).toBe(25)
    expect(cutoffForSet(filter, [isometric, direction(60)])).toBe(12)
    expect(() => cutoffForSet({ ...filter, cutoffs: [] }, [direction(60)])).toThrow('the cutoff table is empty')
  })
})

describe('filtering a load range', () => {
  const design = designZeroPhaseLowpass(12, 1000, 2)
  if ('refused' in design) throw new Error(design.refused)
  const line = (from: number, to: number, n = 1000) =>
    Float64Array.from({ length: n }, (_, i) => (i >= from && i <= to ? 3 * i - 7 : 1e4 * Math.cos(i)))

  it('leaves a straight line as it is and continues it over what lies outside the settled part', () => {
    const range = { rangeFrom: 190, from: 200, to: 700, rangeTo: 705 }
    const out = filterLoadRange(line(200, 700), range, design, 1000)
    expect(out).toHaveLength(516)
    // the passes start as if at rest: a trace of that is left at the very ends
    out.forEach((value, j) => expect(Math.abs(value - (3 * (190 + j) - 7))).toBeLessThan(0.15))
    out.subarray(150, 350).forEach((value, k) => expect(value).toBeCloseTo(3 * (340 + k) - 7, 4))
  })

  it('reads the ends of a parabola from a parabola', () => {
    // Turned about the end value itself: a wrong end would show as a step there.
    const parabola = Float64Array.from({ length: 400 }, (_, i) => 1e-3 * (i - 150) ** 2)
    const out = filterLoadRange(parabola, { rangeFrom: 100, from: 100, to: 300, rangeTo: 300 }, design, 1000)
    expect(out).toHaveLength(201)
    expect(out[0]).toBeCloseTo(2.5, 1)
    expect(out[200]).toBeCloseTo(22.5, 1)
    // in the middle a low-pass of 12 Hz lifts a parabola by a constant only
    expect(out[100]! - out[90]!).toBeCloseTo(parabola[200]! - parabola[190]!, 1)
  })

  it('needs five settled samples, and more of them than lie outside on one side', () => {
    const raw = line(10, 14, 40)
    const outside = (rangeFrom: number, from: number, to: number, rangeTo: number) =>
      filterLoadRange(raw, { rangeFrom, from, to, rangeTo }, design, 1000)
    expect(outside(10, 10, 13, 13)).toEqual(raw.slice(10, 14))
    expect(outside(5, 10, 14, 14)).toEqual(raw.slice(5, 15))
    expect(outside(10, 10, 14, 19)).toEqual(raw.slice(10, 20))
    const filtered = outside(6, 10, 14, 18)
    expect(filtered).toHaveLength(13)
    filtered.forEach((value) => expect(Math.abs(value)).toBeLessThan(100))
  })
})

const recorded = (changes: Partial<Recording> = {}): Recording => {
  const timeS = Float64Array.from({ length: 400 }, (_, i) => i / 100)
  return {
    timeS,
    torqueNm: timeS.map((t) => 100 + 50 * Math.sin(t)),
    angleDeg: timeS.map((t) => 100 - 20 * t),
    velocityDegS: timeS.map(() => -20),
    torquePositive: 'extension',
    anglePositive: 'flexion',
    readingAtAnatomicalZeroDeg: 0,
    torqueState: 'measured',
    deviceFilter: 'none',
    deviceWindowing: 'none',
    ...changes,
  }
}
const prepare = (changes: Partial<Recording> = {}, tested: Movement = 'extension') => {
  const prepared = prepareRecording(recorded(changes), tested, limits)
  if ('refused' in prepared) throw new Error(prepared.refused)
  return prepared
}

describe('preparing a recording', () => {
  it('says nothing of a plain one and passes its channels on', () => {
    const { findings, missing, resampled, torqueNm, angleDeg, velocityDegS, torqueUnsigned } = prepare()
    expect({ findings, missing, resampled, torqueUnsigned }).toEqual({
      findings: [],
      missing: [],
      resampled: false,
      torqueUnsigned: false,
    })
    expect(torqueNm).toEqual(recorded().torqueNm)
    expect(angleDeg).toEqual(recorded().angleDeg)
    expect(velocityDegS![0]).toBe(20)
  })

  it('turns every sign and takes the zero off', () => {
    const { torqueNm, angleDeg, velocityDegS } = prepare({
      torquePositive: 'flexion',
      anglePositive: 'extension',
      readingAtAnatomicalZeroDeg: 30,
    })
    expect([torqueNm[0], angleDeg[0], velocityDegS![0]]).toEqual([-100, -70, -20])
    expect(prepare({ readingAtAnatomicalZeroDeg: 30 }).angleDeg[0]).toBe(70)
  })

  it('wants every channel as long as the time, and a finite zero', () => {
    const short = new Float64Array(399)
    for (const changes of [{ torqueNm: short }, { angleDeg: short }, { velocityDegS: short }]) {
      expect(() => prepare(changes)).toThrow('all channels must have the same length')
    }
    expect(() => prepare({ readingAtAnatomicalZeroDeg: Infinity })).toThrow('the zero reading must be finite')
  })

  it('refuses signs named by movements of another pair', () => {
    const refused = { refused: 'movement_pair_differs' }
    expect(prepareRecording(recorded({ anglePositive: 'abduction' }), 'extension', limits)).toEqual(refused)
    expect(prepareRecording(recorded({ torquePositive: 'abduction' }), 'extension', limits)).toEqual(refused)
    expect(prepareRecording(recorded({ torquePositive: 'unsigned' }), 'extension', limits)).not.toEqual(refused)
  })

  it('says what it did in so many samples', () => {
    const timeS = recorded().timeS.map((t, i) => (i >= 200 ? t + 0.5 : t))
    timeS[10] = timeS[9]!
    const { findings, missing, resampled } = prepare({ timeS: timeS.map((t) => t + 7) })
    expect(resampled).toBe(true)
    expect(findings.map(({ code, level, detail }) => [code, level, detail])).toEqual([
      ['duplicate_time_stamps', 'note', '1 time stamps are repeated.'],
      ['uneven_time_resampled', 'note', expect.stringMatching(/^Samples were brought to an even 99\.7 Hz\.$/)],
      ['samples_missing', 'caution', '1 gaps in time.'],
    ])
    // seconds from the first sample, whatever the clock said
    expect(missing[0]!.startS).toBeCloseTo(1.99, 9)
    expect(missing[0]!.endS).toBeCloseTo(2.5, 9)
  })

  it('counts what is no number or beyond any limb, as a caution only where the hole is long', () => {
    const holes = (n: number, value = NaN) => recorded().torqueNm.fill(value, 100, 100 + n)
    expect(prepare({ torqueNm: holes(2) }).findings).toEqual([
      { code: 'values_missing', level: 'note', detail: '2 of 400 torque values are missing or beyond any limb.' },
    ])
    const long = prepare({ torqueNm: holes(3, 10_001) })
    expect(long.findings).toEqual([
      { code: 'values_missing', level: 'caution', detail: '3 of 400 torque values are missing or beyond any limb.' },
    ])
    expect(long.missing).toEqual([{ startS: 0.99, endS: 1.03 }])
    expect(prepare({ torqueNm: holes(2, -10_000) }).findings).toEqual([])
    expect(prepare({ angleDeg: recorded().angleDeg.fill(3601, 5, 7) }).findings[0]!.detail).toContain('2 of 400 angle')
    expect(prepare({ angleDeg: recorded().angleDeg.fill(3600, 5, 7) }).findings).toEqual([])
  })

  it('does without a velocity that has long holes, and no repetition is missing for it', () => {
    const velocity = (n: number) => recorded().velocityDegS!.fill(NaN, 100, 100 + n)
    expect(prepare({ velocityDegS: velocity(2) }).velocityDegS).not.toBeNull()
    const long = prepare({ velocityDegS: velocity(3) })
    expect(long).toMatchObject({ velocityDegS: null, missing: [] })
    expect(long.findings).toEqual([
      { code: 'values_missing', level: 'caution', detail: '3 of 400 velocity values are missing or beyond any limb.' },
    ])
    expect(prepare({ velocityDegS: recorded().velocityDegS!.fill(10_001, 5, 7) }).findings).toHaveLength(1)
  })

  it('holds a torque that stays at its largest for five samples', () => {
    const flat = (n: number) => recorded().torqueNm.fill(200, 100, 100 + n)
    expect(prepare({ torqueNm: flat(4) }).findings).toEqual([])
    expect(prepare({ torqueNm: flat(5) }).findings).toEqual([
      { code: 'torque_saturated', level: 'hold', detail: 'The torque stays at its largest value for 5 samples.' },
    ])
    expect(prepare({ torquePositive: 'unsigned' })).toMatchObject({
      torqueUnsigned: true,
      findings: [
        {
          code: 'torque_unsigned',
          level: 'caution',
          detail: 'The torque has no sign; it is given the sign of the movement.',
        },
      ],
    })
  })
})

describe('the movement of the limb', () => {
  const directions = [concentric('extension', 20)]
  const kinematics = (changes: Partial<Recording>, deviceFilter: Recording['deviceFilter'] = 'none') =>
    limbKinematics(prepare(changes), directions, filter, deviceFilter)

  it('takes the recorded velocity where it is within a fifth to a quarter of the angle’s', () => {
    const source = (factor: number) =>
      kinematics({ velocityDegS: recorded().velocityDegS!.map((v) => factor * v) }).velocitySource
    expect([0.79, 0.81, 1, 1.24, 1.26].map(source)).toEqual([
      'derived_from_angle',
      'recorded',
      'recorded',
      'recorded',
      'derived_from_angle',
    ])
    const { findings } = kinematics({ velocityDegS: recorded().velocityDegS!.map((v) => v / 2) })
    expect(findings[0]).toEqual({
      code: 'velocity_contradicts_angle',
      level: 'caution',
      detail: "The recorded velocity is 0.500 of what the angle says; the angle's was used.",
    })
  })

  it('is smoothed at twice the torque’s cutoff, and not again after a device, unless it has to be derived', () => {
    expect(kinematics({}).cutoffHz).toBe(24)
    const untouched = kinematics({}, 'applied')
    expect(untouched.cutoffHz).toBeNull()
    expect(untouched.angleDeg).toEqual(recorded().angleDeg)
    expect(untouched.velocityDegS).toEqual(recorded().velocityDegS!.map((v) => -v))
    const derived = kinematics({ velocityDegS: null }, 'applied')
    expect(derived).toMatchObject({ cutoffHz: 24, velocitySource: 'derived_from_angle' })
    expect(derived.velocityDegS[200]).toBeCloseTo(20, 6)
    expect(limbKinematics(prepare({ velocityDegS: null }), directions, UNFILTERED.filter, 'none').cutoffHz).toBeNull()
    const near = { ...filter, kinematicCutoffMultiple: 4 }
    expect(
      limbKinematics(prepare(), directions, near, 'none').findings.map(({ code, detail }) => [code, detail]),
    ).toEqual([
      ['cutoff_too_near_nyquist', 'The angle was not filtered at 48 Hz.'],
      ['cutoff_too_near_nyquist', 'The velocity was not filtered at 48 Hz.'],
    ])
    expect(filterTorque(recorded().torqueNm, 25, directions, filter, 'none').findings).toEqual([
      { code: 'cutoff_too_near_nyquist', level: 'caution', detail: 'The torque was not filtered at 12 Hz.' },
    ])
  })

  it('is smoothed harder where a noisy angle has to be derived, down to 6 Hz and only then', () => {
    const noisy = (size: number) => ({ angleDeg: recorded().angleDeg.map((a, i) => a + (i % 2 === 0 ? size : -size)) })
    // SD of the zigzag's second difference: 4 x size / (0.6745 x root 6); allowed: 1.2 % of 20 deg/s
    const expected = quietCutoffHz((4 * 0.01) / (0.6745 * Math.sqrt(6)), 0.24, 100)
    expect(kinematics({ ...noisy(0.01), velocityDegS: null }).cutoffHz).toBeCloseTo(expected, 9)
    expect(expected).toBeGreaterThan(6)
    expect(kinematics({ ...noisy(1), velocityDegS: null }).cutoffHz).toBe(6)
    expect(kinematics(noisy(0.01)).cutoffHz).toBe(24)
  })

  it('is suspected in radians, whichever direction is faster', () => {
    const angleDeg = recorded().angleDeg.map((a) => (a * Math.PI) / 180)
    const suspected = (set: readonly number[]) =>
      limbKinematics(
        prepare({ angleDeg, velocityDegS: null }),
        set.map((v) => concentric('extension', v)),
        filter,
        'none',
      ).findings.map(({ code, level, detail }) => [code, level, detail])
    const hold = ['possible_angle_in_radians', 'hold', 'The angle moves as far and as fast as it would in radians.']
    expect(suspected([20])).toEqual([hold])
    expect(suspected([10, 20])).toEqual([hold])
    expect(suspected([40, 20])).toEqual([])
    // 80 deg of range at a hundredth of the set velocity: slow, not radians
    const slow = limbKinematics(prepare({ velocityDegS: null }), [concentric('extension', 1146)], filter, 'none')
    expect(slow.findings).toEqual([])
  })
})

describe('the torque of the muscle', () => {
  const isometric = (movement: Movement): DirectionProtocol => ({
    movement,
    contractionMode: 'isometric',
    velocityDegS: 0,
  })
  const unsigned = prepare({ torquePositive: 'unsigned', torqueNm: new Float64Array(400).fill(10) })
  const moving = (...velocity: number[]) => ({
    ...limbKinematics(unsigned, [concentric('extension', 20)], filter, 'none'),
    velocityDegS: Float64Array.from({ length: 400 }, (_, i) => velocity[i] ?? 0),
  })

  it('without a sign takes that of the movement, above 2 deg/s, and keeps it at rest', () => {
    const torque = muscleTorque(unsigned, moving(0, 2, -2, -2.1, 0, 2, 2.1, 1), [concentric('extension', 20)], null)
    expect(Array.from(torque as Float64Array).slice(0, 9)).toEqual([10, 10, 10, -10, -10, -10, 10, 10, 10])
    const flexion = muscleTorque(unsigned, moving(0, 0, 3), [concentric('flexion', 20)], null)
    expect(Array.from(flexion as Float64Array).slice(0, 4)).toEqual([-10, -10, 10, 10])
  })

  it('without a sign and without movement takes that of the one direction tested, and has none with two', () => {
    expect((muscleTorque(unsigned, moving(), [isometric('flexion')], null) as Float64Array)[5]).toBe(-10)
    expect((muscleTorque(unsigned, moving(), [isometric('extension')], null) as Float64Array)[5]).toBe(10)
    expect(muscleTorque(unsigned, moving(), [isometric('extension'), isometric('flexion')], null)).toEqual({
      refused: 'unsigned_torque_has_no_direction',
    })
  })

  it('goes through the filter of the set unless the device has been there, and says which', () => {
    const torque = recorded().torqueNm
    const through = (deviceFilter: Recording['deviceFilter'], of = DEFAULT_PARAMETERS.filter) =>
      filterTorque(torque, 100, [concentric('extension', 20)], of, deviceFilter)
    expect(through('none')).toMatchObject({ design: { cutoffHz: 12 }, findings: [], unfilteredNm: torque })
    expect(through('applied')).toMatchObject({
      torqueNm: torque,
      design: null,
      findings: [
        {
          code: 'filtered_by_device',
          level: 'note',
          detail: 'The device filtered the torque; it was not filtered again.',
        },
      ],
    })
    expect(through('unknown')).toMatchObject({
      design: { cutoffHz: 12 },
      findings: [
        {
          code: 'device_filter_unknown',
          level: 'caution',
          detail: 'Whether the device filtered the torque is not known; it was filtered here.',
        },
      ],
    })
    expect(through('unknown', UNFILTERED.filter)).toEqual({
      torqueNm: torque,
      unfilteredNm: torque,
      design: null,
      findings: [],
    })
  })

  it('for rates of development is filtered lightly, or not at all', () => {
    const step = Float64Array.from({ length: 2000 }, (_, i) => (i < 1000 ? 0 : 100))
    const light = lightlyFilteredTorque(step, 1000, filter, 'none')
    expect(light).not.toEqual(step)
    expect(light[1010]).toBeCloseTo(100, 0)
    expect(lightlyFilteredTorque(step, 1000, filter, 'applied')).toBe(step)
    expect(lightlyFilteredTorque(step, 1000, UNFILTERED.filter, 'none')).toBe(step)
    expect(lightlyFilteredTorque(step, 200, filter, 'none')).toBe(step)
  })

  it('is doubted beyond one watt against the mode', () => {
    // 10 deg/s is half the set velocity: only those samples count.
    const watts = (power: number, mode: DirectionProtocol['contractionMode'] = 'isokinetic_concentric', speed = 10) =>
      screenPowerSign(
        new Float64Array(400).fill((power * 180) / Math.PI / speed),
        moving(...new Array<number>(400).fill(speed)),
        [{ movement: 'extension', contractionMode: mode, velocityDegS: 20 }],
      )
    expect(watts(-0.999)).toEqual([])
    expect(watts(-1.5)).toEqual([
      {
        code: 'sign_convention_doubtful',
        level: 'hold',
        detail: 'Mean muscle power is -1.5 W: torque or angle has another sign than declared.',
      },
    ])
    expect(watts(5)).toEqual([])
    expect(watts(0.999, 'isokinetic_eccentric')).toEqual([])
    expect(watts(1.5, 'isokinetic_eccentric')).toHaveLength(1)
    expect(watts(-5, 'isokinetic_eccentric')).toEqual([])
    expect(watts(-50, 'isokinetic_concentric', 9.9)).toEqual([])
    expect(watts(-50, 'isometric')).toEqual([])
  })

  it('is not judged where one direction shortens and the other lengthens', () => {
    const backwards = new Float64Array(400).fill(-100)
    const both: DirectionProtocol[] = [
      concentric('extension', 20),
      { movement: 'extension', contractionMode: 'isokinetic_eccentric', velocityDegS: 20 },
    ]
    const kinematics = moving(...new Array<number>(400).fill(20))
    expect(screenPowerSign(backwards, kinematics, both)).toEqual([])
    expect(screenPowerSign(backwards, kinematics, [both[0]!, isometric('flexion')])).toHaveLength(1)
    // the slower direction decides what moves
    const slower = moving(...new Array<number>(400).fill(10))
    expect(screenPowerSign(backwards, slower, [concentric('extension', 60), concentric('flexion', 20)])).toHaveLength(1)
  })
})

describe('movement pairs', () => {
  it('know their two movements and their signs', () => {
    expect(movementPair('flexion')).toEqual(['extension', 'flexion'])
    expect([movementSign('extension'), movementSign('flexion')]).toEqual([1, -1])
    expect(() => movementPair('dance' as Movement)).toThrow('unknown movement: dance')
  })
})
