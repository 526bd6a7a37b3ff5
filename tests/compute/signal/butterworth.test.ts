import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  butterworthLowpass,
  designZeroPhaseLowpass,
  dualPassDesignCutoffHz,
  gainAtHz,
  passCorrection,
  zeroPhaseFilter,
} from '../../../src/compute/index.ts'
import type { LowpassDesign, SecondOrderSection } from '../../../src/compute/index.ts'

interface GoldenCase {
  order: number
  sampleRateHz: number
  cutoffHz: number
  designCutoffHz: number
  b: number[]
  a: number[]
  input: number[]
  output: number[]
}
const golden = JSON.parse(
  readFileSync(new URL('../../golden/filtfilt-orders-2-4-rates-50-5000.json', import.meta.url), 'utf8'),
) as { software: string; cases: GoldenCase[] }

/** Sections multiplied out to one numerator and denominator. */
function polynomial(sections: readonly SecondOrderSection[]): { b: number[]; a: number[] } {
  const times = (x: number[], y: number[]) => {
    const out = new Array<number>(x.length + y.length - 1).fill(0)
    x.forEach((p, i) => y.forEach((q, j) => (out[i + j]! += p * q)))
    return out
  }
  return sections.reduce(({ b, a }, s) => ({ b: times(b, [s.b0, s.b1, s.b2]), a: times(a, [1, s.a1, s.a2]) }), {
    b: [1],
    a: [1],
  })
}

function design(cutoffHz: number, sampleRateHz: number, order: number): LowpassDesign {
  const answer = designZeroPhaseLowpass(cutoffHz, sampleRateHz, order)
  if ('refused' in answer) throw new Error(answer.refused)
  return answer
}

const uncorrected = (cutoffHz: number, sampleRateHz: number): LowpassDesign => ({
  sections: butterworthLowpass(2, cutoffHz, sampleRateHz),
  orderPerPass: 2,
  cutoffHz,
  designCutoffHz: cutoffHz,
})

describe('cutoff of each of several passes (Winter 2009 p. 69, Robertson et al. 2014 p. 288)', () => {
  it('gives the published correction factors', () => {
    expect([1, 2, 3, 4].map((passes) => Number(passCorrection(2, passes).toFixed(6)))).toEqual([
      1, 0.802243, 0.71402, 0.65953,
    ])
    expect(passCorrection(2, 2)).toBeCloseTo(0.8022432629, 10)
    expect(passCorrection(4, 2)).toBeCloseTo(0.89568, 6)
  })

  it('corrects the pre-warped frequency, not the frequency', () => {
    expect(dualPassDesignCutoffHz(10, 100, 2)).toBeCloseTo(12.2492406076, 9)
    expect(dualPassDesignCutoffHz(10, 1000, 2)).toBeCloseTo(12.4627772837, 9)
    expect(dualPassDesignCutoffHz(20, 1000, 2)).toBeCloseTo(24.9119646531, 9)
    expect(10 / passCorrection(2, 2)).toBeCloseTo(12.46504703, 7)
  })

  it('lets half the power through at the cutoff that was asked for, and neither of the usual mistakes does', () => {
    const twoPass = (designHz: number, at: number) => gainAtHz(butterworthLowpass(2, designHz, 100), at, 100) ** 2
    expect(twoPass(dualPassDesignCutoffHz(10, 100, 2), 10)).toBeCloseTo(0.70710678, 8)
    expect(twoPass(10, 10)).toBeCloseTo(0.5, 12)
    expect(twoPass(10 / passCorrection(2, 2), 10)).toBeCloseTo(0.72287697, 8)
    expect([2, 20, 40].map((hz) => Number(twoPass(12.2492406076, hz).toFixed(8)))).toEqual([
      0.99941806, 0.0880643, 0.00029982,
    ])
  })

  it.each([2, 4, 6, 8])('holds the 3 dB point at order %i over rates and cutoffs', (order) => {
    fc.assert(
      fc.property(
        fc.double({ min: 50, max: 5000, noNaN: true }),
        fc.double({ min: 0.002, max: 0.4, noNaN: true }),
        (rate, part) => {
          const cutoff = part * rate
          const sections = butterworthLowpass(order, dualPassDesignCutoffHz(cutoff, rate, order), rate)
          expect(gainAtHz(sections, cutoff, rate) ** 2).toBeCloseTo(Math.SQRT1_2, 9)
          expect(gainAtHz(sections, 0, rate)).toBeCloseTo(1, 9)
        },
      ),
      { seed: 20261125, numRuns: 100 },
    )
  })
})

describe('coefficients (scipy.signal.butter)', () => {
  it('gives the published second-order coefficients at 10 Hz of 100 Hz', () => {
    const { b, a } = polynomial(butterworthLowpass(2, 12.2492406076, 100))
    expect(b.map((x) => Number(x.toFixed(8)))).toEqual([0.09444674, 0.18889349, 0.09444674])
    expect(a.map((x) => Number(x.toFixed(8)))).toEqual([1, -0.96264131, 0.34042828])
    const plain = polynomial(butterworthLowpass(2, 10, 100))
    expect(plain.b.map((x) => Number(x.toFixed(8)))).toEqual([0.06745527, 0.13491055, 0.06745527])
    expect(plain.a.map((x) => Number(x.toFixed(8)))).toEqual([1, -1.1429805, 0.4128016])
  })

  it('gives them at 1000 Hz', () => {
    const ten = polynomial(butterworthLowpass(2, 12.4627772837, 1000))
    expect(ten.b[0]).toBeCloseTo(0.00145186, 8)
    expect(ten.a.map((x) => Number(x.toFixed(8)))).toEqual([1, -1.88936292, 0.89517037])
    const twenty = polynomial(butterworthLowpass(2, 24.9119646531, 1000))
    expect(twenty.b[0]).toBeCloseTo(0.00550574, 8)
    expect(twenty.a.map((x) => Number(x.toFixed(8)))).toEqual([1, -1.7794063, 0.80142928])
  })

  it('refuses an odd order and a cutoff outside the band as the caller’s mistake', () => {
    expect(() => butterworthLowpass(3, 10, 100)).toThrow(RangeError)
    expect(() => butterworthLowpass(0, 10, 100)).toThrow(RangeError)
    expect(() => butterworthLowpass(2, 50, 100)).toThrow(RangeError)
    expect(() => butterworthLowpass(2, 0, 100)).toThrow(RangeError)
    expect(() => butterworthLowpass(2, 10, Number.NaN)).toThrow(RangeError)
    expect(() => passCorrection(2, 0)).toThrow(RangeError)
  })
})

describe(`zero-phase filter against ${golden.software}`, () => {
  it.each(golden.cases.map((c) => [c.order, c.sampleRateHz, c.input.length, c] as const))(
    'agrees with filtfilt: order %i, %i Hz, %i samples',
    (order, sampleRateHz, _length, c) => {
      const own = design(c.cutoffHz, sampleRateHz, order)
      expect(own.designCutoffHz).toBeCloseTo(c.designCutoffHz, 9)
      const { b, a } = polynomial(own.sections)
      // 1e-12: two ways of rounding the same formula. Filtered: SciPy's single polynomial of order 4 at 20 of 5000 Hz is
      // itself good to about 1e-6 of 150 N.m.
      b.forEach((value, i) => expect(Math.abs(value - c.b[i]!)).toBeLessThan(1e-12))
      a.forEach((value, i) => expect(Math.abs(value - c.a[i]!)).toBeLessThan(1e-12))
      const tolerance = order === 4 && sampleRateHz === 5000 ? 1e-6 : 1e-8
      const filtered = zeroPhaseFilter(Float64Array.from(c.input), own)
      filtered.forEach((value, i) => expect(Math.abs(value - c.output[i]!)).toBeLessThan(tolerance))
    },
  )

  const step = Float64Array.from([...Array<number>(10).fill(0), ...Array<number>(10).fill(10)])
  it('gives the 20 published outputs for a step, with and without the correction', () => {
    expect([...zeroPhaseFilter(step, design(10, 100, 2))].map((x) => Number(x.toFixed(6)))).toEqual([
      0.023527, 0.015656, -0.024841, -0.116231, -0.255701, -0.38163, -0.328033, 0.193437, 1.510579, 3.703302, 6.296698,
      8.489421, 9.806563, 10.328033, 10.38163, 10.255701, 10.116231, 10.024842, 9.984346, 9.976474,
    ])
    expect([...zeroPhaseFilter(step, uncorrected(10, 100))].map((x) => Number(x.toFixed(6)))).toEqual([
      -0.018914, -0.077484, -0.168722, -0.279461, -0.365059, -0.333802, -0.039898, 0.698154, 2.029727, 3.928726,
      6.071274, 7.970272, 9.301845, 10.039896, 10.3338, 10.365057, 10.279461, 10.168725, 10.077494, 10.018935,
    ])
  })

  it('refuses a signal not longer than its edges need', () => {
    expect(() => zeroPhaseFilter(new Float64Array(9), design(10, 100, 2))).toThrow(RangeError)
    expect(zeroPhaseFilter(new Float64Array(10), design(10, 100, 2))).toHaveLength(10)
    expect(() => zeroPhaseFilter(new Float64Array(15), design(10, 100, 4))).toThrow(RangeError)
  })
})

describe('refusal near Nyquist', () => {
  it('refuses a corrected cutoff at 0.45 of the sample rate or above, with a reason', () => {
    // Design cutoff of exactly 45 Hz at 100 Hz: tan(pi fc / 100) = C tan(0.45 pi).
    const limit = (100 / Math.PI) * Math.atan(passCorrection(2, 2) * Math.tan(0.45 * Math.PI))
    expect(designZeroPhaseLowpass(limit + 1e-6, 100, 2)).toEqual({ refused: 'cutoff_too_near_nyquist' })
    expect(designZeroPhaseLowpass(limit - 1e-6, 100, 2)).toHaveProperty('sections')
    expect(designZeroPhaseLowpass(50, 100, 2)).toEqual({ refused: 'cutoff_too_near_nyquist' })
    expect(() => designZeroPhaseLowpass(-1, 100, 2)).toThrow(RangeError)
  })
})

describe('laws of the zero-phase filter', () => {
  const signals = fc
    .tuple(fc.integer({ min: 150, max: 400 }), fc.integer({ min: 1, max: 1e9 }))
    .map(([length, seed]) => {
      let state = seed
      let value = 0
      return Float64Array.from({ length }, () => {
        state = (state * 1103515245 + 12345) % 2147483648
        value += state / 2147483648 - 0.5
        return 10 * value
      })
    })
  const run = { seed: 20261125, numRuns: 60 }

  it('turns round with the signal: filter(reverse(x)) = reverse(filter(x)) away from the ends', () => {
    fc.assert(
      fc.property(signals, (x) => {
        const forward = zeroPhaseFilter(x, design(12, 100, 2))
        const backward = zeroPhaseFilter(x.toReversed(), design(12, 100, 2)).toReversed()
        for (let i = 60; i < x.length - 60; i++) expect(Math.abs(forward[i]! - backward[i]!)).toBeLessThan(1e-6)
      }),
      run,
    )
  })

  it('scales, and a constant passes through it', () => {
    fc.assert(
      fc.property(signals, fc.double({ min: -50, max: 50, noNaN: true }), (x, factor) => {
        const plain = zeroPhaseFilter(x, design(12, 100, 4))
        const scaled = zeroPhaseFilter(
          x.map((value) => factor * value + 7),
          design(12, 100, 4),
        )
        plain.forEach((value, i) => expect(scaled[i]).toBeCloseTo(factor * value + 7, 6))
      }),
      run,
    )
  })

  it('lets a recording be split where the limb rests: the parts away from the cut are the same', () => {
    fc.assert(
      fc.property(signals, (x) => {
        const rest = new Float64Array(120)
        const joined = Float64Array.from([
          ...x.map((v, i) => v * Math.min(1, (x.length - 1 - i) / 20)),
          ...rest,
          ...x.map((v, i) => v * Math.min(1, i / 20)),
        ])
        const cut = x.length + 60
        const whole = zeroPhaseFilter(joined, design(12, 100, 2))
        const first = zeroPhaseFilter(joined.slice(0, cut), design(12, 100, 2))
        const second = zeroPhaseFilter(joined.slice(cut), design(12, 100, 2))
        for (let i = 0; i < x.length; i++) expect(Math.abs(whole[i]! - first[i]!)).toBeLessThan(1e-6)
        for (let i = 60; i < second.length; i++) expect(Math.abs(whole[cut + i]! - second[i]!)).toBeLessThan(1e-6)
      }),
      run,
    )
  })

  it('does not move the peak of a symmetric pulse', () => {
    const pulse = Float64Array.from({ length: 301 }, (_, i) => Math.exp(-(((i - 150) / 20) ** 2)))
    const filtered = zeroPhaseFilter(pulse, design(12, 100, 2))
    expect(filtered.indexOf(Math.max(...filtered))).toBe(150)
    for (let i = 1; i < 100; i++) expect(filtered[150 - i]).toBeCloseTo(filtered[150 + i]!, 9)
  })

  it('leaves its input alone', () => {
    const x = Float64Array.from({ length: 40 }, (_, i) => i * i)
    const copy = x.slice()
    zeroPhaseFilter(x, design(12, 100, 2))
    expect(x).toEqual(copy)
  })
})
