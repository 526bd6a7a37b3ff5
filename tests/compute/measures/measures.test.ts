import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  averagePowerW,
  fatigueIndexEdgesPercent,
  fatigueSlope,
  impulseNms,
  isometricPlateauNm,
  normalCdf,
  peakAtEdge,
  peakPowerW,
  peakRateOfTorqueDevelopment,
  peakTorque,
  percentDecrement,
  perBodyMass,
  rateOfTorqueDevelopment,
  restingTorque,
  torqueAtAngle,
  torqueOnset,
  workFatigueThirdsPercent,
  workJ,
} from '../../../src/compute/index.ts'
import { coefficientOfVariationPct, sampleStandardDeviation } from '../../../src/compute/numeric/descriptive.ts'

const radians = (deg: number) => (deg * Math.PI) / 180
const degrees = (step: number) => Float64Array.from({ length: 90 / step + 1 }, (_, i) => i * step)
/** T = 200 sin(2 angle): 200 N.m at 45 deg, 200 J over 0 to 90 deg. */
const sine = (angles: Float64Array) => angles.map((angle) => 200 * Math.sin(2 * radians(angle)))
/** T = 200 (1 - exp(-t / 0.1 s)) from sample `rest` on. */
const rise = (rateHz: number, seconds: number, rest = 0) =>
  Float64Array.from({ length: rest + seconds * rateHz + 1 }, (_, i) =>
    i < rest ? 0 : 200 * (1 - Math.exp(-(i - rest) / rateHz / 0.1)),
  )
/** Peak torques of 30 repetitions that lose 2 N.m each. */
const thirty = Array.from({ length: 30 }, (_, i) => 150 - 2 * i)

describe('work and power of T = 200 sin(2 angle)', () => {
  it('comes to 200 J, by the trapezoid rule 199.979692 at 1 deg and 199.492046 at 5 deg', () => {
    const one = degrees(1)
    const five = degrees(5)
    expect(workJ(sine(one), one, 1, -1, 0, 90)).toBeCloseTo(199.979692, 6)
    expect(workJ(sine(five), five, 1, -1, 0, 18)).toBeCloseTo(199.492046, 6)
    const fine = degrees(0.01)
    expect(workJ(sine(fine), fine, 1, -1, 0, 9000)).toBeCloseTo(200, 5)
  })

  it('is positive for either direction and mode, and subtracts torque of the other sign', () => {
    const angles = degrees(1)
    const torque = sine(angles)
    const work = workJ(torque, angles, 1, -1, 0, 90)
    const flexion = torque.map((x) => -x)
    expect(workJ(flexion, angles, -1, -1, 0, 90)).toBeCloseTo(work, 9)
    expect(workJ(torque.toReversed(), angles.toReversed(), 1, 1, 0, 90)).toBeCloseTo(work, 9)
    expect(workJ(flexion, angles, 1, -1, 0, 90)).toBeCloseTo(-work, 9)
  })

  it('makes 133.3333 W over 1.5 s, 209.4395 W at its peak, and 127.323954 N.m over the angle', () => {
    expect(averagePowerW(200, 1.5)).toBeCloseTo(133.3333, 4)
    expect(200 / radians(90)).toBeCloseTo(127.323954, 6)
    const angles = degrees(1)
    expect(peakPowerW(sine(angles), new Float64Array(91).fill(-60), 1, -1, 0, 90)).toBeCloseTo(209.4395, 4)
    expect(peakPowerW(sine(angles), new Float64Array(91).fill(-60), -1, -1, 0, 90)).toBeNull()
    expect(() => averagePowerW(200, 0)).toThrow(RangeError)
  })
})

describe('peak torque and its angle', () => {
  it('finds 200 N.m at 45 deg, by the sample and by the parabola', () => {
    const angles = degrees(1)
    expect(peakTorque(sine(angles), angles, 1, 0, 90, 100)).toEqual({ index: 45, torqueNm: 200, angleDeg: 45 })
    expect(peakTorque(sine(angles), angles, 1, 0, 90, 90)!.angleDeg).toBeCloseTo(45, 9)
  })

  it('does not follow a noisy sample on a flat top, and stays on the top', () => {
    const angles = degrees(0.1)
    const torque = sine(angles).map((x, i) => x + (i === 400 ? 4 : 0))
    expect(peakTorque(torque, angles, 1, 0, 900, 100)!.angleDeg).toBe(40)
    expect(peakTorque(torque, angles, 1, 0, 900, 90)!.angleDeg).toBeCloseTo(45, 1)
  })

  it('looks in the tested sign only', () => {
    const angles = degrees(1)
    const mixed = angles.map((a) => (a < 45 ? -300 : 20))
    expect(peakTorque(mixed, angles, 1, 0, 90, 100)!.torqueNm).toBe(20)
    expect(peakTorque(mixed, angles, -1, 0, 90, 100)!.torqueNm).toBe(300)
    expect(peakTorque(mixed, angles, -1, 50, 90, 100)).toBeNull()
    expect(peakTorque(new Float64Array(91), angles, 1, 0, 90, 100)).toBeNull()
  })

  it('keeps the sample’s angle where no parabola opens downwards', () => {
    const angles = degrees(1)
    const rising = angles.map((a) => 150 + a + a * a)
    expect(peakTorque(rising, angles, 1, 0, 90, 50)!.angleDeg).toBe(90)
    expect(peakTorque(Float64Array.of(1, 2, 1), Float64Array.of(1, 2, 3), 1, 0, 2, 90)!.angleDeg).toBe(2)
    // The limb stood still: every sample at one angle.
    expect(peakTorque(Float64Array.of(9, 9.5, 10, 9.5, 9), new Float64Array(5).fill(30), 1, 0, 4, 50)!.angleDeg).toBe(
      30,
    )
  })

  it('flags the first and last 5 %', () => {
    expect(peakAtEdge(88, 90, 0, 5)).toBe(true)
    expect(peakAtEdge(2, 90, 0, 5)).toBe(true)
    expect(peakAtEdge(85, 90, 0, 5)).toBe(false)
  })
})

describe('torque at an angle', () => {
  const torque = Float64Array.of(150, 152, 156, 158)
  const angle = Float64Array.of(58, 59, 61, 62)
  it('interpolates 154 N.m at 60 deg, and never extrapolates', () => {
    expect(torqueAtAngle(torque, angle, 1, 0, 3, 60)).toBe(154)
    expect(torqueAtAngle(torque, angle, 1, 0, 3, 58)).toBe(150)
    expect(torqueAtAngle(torque, angle, 1, 0, 3, 62)).toBe(158)
    expect(torqueAtAngle(torque, angle, 1, 0, 3, 57.9)).toBeNull()
    expect(torqueAtAngle(torque, angle, 1, 0, 1, 60)).toBeNull()
    expect(torqueAtAngle(torque, angle, -1, 0, 3, 60)).toBe(-154)
  })
})

describe('rate of torque development of T = 200 (1 - exp(-t / 0.1 s)) (windows: Aagaard et al. 2002)', () => {
  it('gives the closed form over 50, 100 and 200 ms', () => {
    const torque = rise(1000, 1)
    expect(rateOfTorqueDevelopment(torque, 1, 1000, 0, 50)).toBeCloseTo(1573.8774, 4)
    expect(rateOfTorqueDevelopment(torque, 1, 1000, 0, 100)).toBeCloseTo(1264.2411, 4)
    expect(rateOfTorqueDevelopment(torque, 1, 1000, 0, 200)).toBeCloseTo(864.6647, 4)
    expect([50, 100, 200].map((i) => Number(torque[i]!.toFixed(4)))).toEqual([78.6939, 126.4241, 172.9329])
    expect(
      rateOfTorqueDevelopment(
        torque.map((x) => -x),
        -1,
        1000,
        0,
        100,
      ),
    ).toBeCloseTo(1264.2411, 4)
  })

  it('interpolates a window that ends between samples, and has none past the end', () => {
    const line = Float64Array.from({ length: 40 }, (_, i) => 3 * i)
    expect(rateOfTorqueDevelopment(line, 1, 333, 0, 50)).toBeCloseTo(999, 9)
    expect(rateOfTorqueDevelopment(line, 1, 1000, 0, 39)).toBeCloseTo(3000, 9)
    expect(rateOfTorqueDevelopment(line, 1, 1000, 0, 40)).toBeNull()
    expect(() => rateOfTorqueDevelopment(line, 1, 1000, 0, 0)).toThrow(RangeError)
  })

  it('nears 2000 N.m/s at the steepest, in 2 ms steps', () => {
    const steepest = peakRateOfTorqueDevelopment(rise(1000, 1), 1, 1000, 0)!
    expect(steepest).toBeCloseTo((200 * (1 - Math.exp(-0.02))) / 0.002, 6)
    expect(steepest).toBeLessThan(2000)
    expect(peakRateOfTorqueDevelopment(Float64Array.of(1), 1, 1000, 0)).toBeNull()
  })

  it('gives impulses of 2.130613, 7.357589 and 22.706706 N.m.s', () => {
    const torque = rise(10000, 1)
    const impulse = (ms: number) => impulseNms(torque, 1, 10000, 0, 10 * ms)
    // The trapezoid rule at 0.1 ms is good to 2e-6.
    expect(impulse(50)).toBeCloseTo(2.130613, 5)
    expect(impulse(100)).toBeCloseTo(7.357589, 5)
    expect(impulse(200)).toBeCloseTo(22.706706, 5)
  })
})

describe('onset of a contraction', () => {
  const torque = rise(1000, 1, 500)
  const quiet = { levelNm: 0, sdNm: 0 }
  const onset = (rule: Parameters<typeof torqueOnset>[2], baseline = quiet) =>
    torqueOnset(torque, 1, rule, baseline, 200, 0, 700)

  it('moves with the rule: 0.1, 1 and 5 N.m', () => {
    const samples = [0.1, 1, 5].map((riseNm) => onset({ kind: 'absolute', riseNm }))
    // 200 (1 - exp(-t / 0.1)) reaches 1 N.m after 0.5 ms and 5 N.m after 2.5 ms.
    expect(samples).toEqual([500, 500, 502])
  })

  it('takes a fraction of the peak, or deviations of the resting torque with a floor', () => {
    expect(onset({ kind: 'fraction_of_peak', percent: 10 })).toBe(510)
    expect(onset({ kind: 'baseline_deviation', standardDeviations: 3, atLeastNm: 1 }, { levelNm: 0, sdNm: 2 })).toBe(
      503,
    )
    expect(onset({ kind: 'baseline_deviation', standardDeviations: 3, atLeastNm: 1 })).toBe(500)
  })

  it('has no onset where the muscle was never at rest', () => {
    expect(torqueOnset(torque, 1, { kind: 'absolute', riseNm: 1 }, quiet, 200, 600, 700)).toBeNull()
  })

  it('reads the resting level from the quietest stretch', () => {
    const noisy = Float64Array.from({ length: 2000 }, (_, i) => 4 + (i < 1200 ? Math.sin(i) * 3 : (i % 2) * 0.2))
    const rest = restingTorque(noisy, 1, 0, 1900, 1000)!
    expect(rest.levelNm).toBeCloseTo(4.1, 9)
    expect(rest.sdNm).toBeCloseTo(sampleStandardDeviation([...noisy.slice(1500, 1700)]), 9)
    expect(restingTorque(noisy, -1, 0, 1900, 1000)!.levelNm).toBeCloseTo(-4.1, 9)
    expect(restingTorque(noisy, 1, 0, 150, 1000)).toBeNull()
  })
})

describe('isometric plateau', () => {
  const held = Float64Array.from({ length: 3000 }, (_, i) =>
    i < 1000 ? i * 0.15 : i < 2000 ? 150 : 150 - (i - 2000) * 0.15,
  )
  const rule = { windowMs: 500, maximumSpreadPercent: 10 }

  it('is the highest mean of a window that holds steady', () => {
    expect(isometricPlateauNm(held, 1, 0, 2999, 1000, rule)).toBeCloseTo(150, 9)
    expect(
      isometricPlateauNm(
        held.map((x) => -x),
        -1,
        0,
        2999,
        1000,
        rule,
      ),
    ).toBeCloseTo(150, 9)
  })

  it('is missing where nothing holds that steadily, or that long', () => {
    const ramp = Float64Array.from({ length: 2000 }, (_, i) => i * 0.1)
    expect(isometricPlateauNm(ramp, 1, 0, 800, 1000, rule)).toBeNull()
    expect(isometricPlateauNm(held, 1, 1000, 1400, 1000, rule)).toBeNull()
  })

  it('agrees with trying every window', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 90, max: 110, noNaN: true }), { minLength: 10, maxLength: 60 }),
        (values) => {
          const torque = Float64Array.from(values)
          const own = isometricPlateauNm(torque, 1, 0, values.length - 1, 10, {
            windowMs: 500,
            maximumSpreadPercent: 8,
          })
          let best: number | null = null
          for (let start = 0; start + 5 <= values.length; start++) {
            const window = values.slice(start, start + 5)
            const mean = window.reduce((total, value) => total + value, 0) / 5
            if (Math.max(...window) - Math.min(...window) <= 0.08 * mean) best = Math.max(best ?? 0, mean)
          }
          if (best === null) expect(own).toBeNull()
          else expect(own).toBeCloseTo(best, 9)
        },
      ),
      { seed: 20261125, numRuns: 200 },
    )
  })
})

describe('fatigue of 30 repetitions from 150 N.m down by 2', () => {
  it('depends on the edge: 34.2466 % with 5, 36.4865 % with 3 (after Thorstensson & Karlsson 1976)', () => {
    expect(fatigueIndexEdgesPercent(thirty, 5)).toBeCloseTo(34.2466, 4)
    expect(fatigueIndexEdgesPercent(thirty, 3)).toBeCloseTo(36.4865, 4)
    expect(fatigueIndexEdgesPercent(thirty.slice(0, 9), 5)).toBeNull()
    expect(fatigueIndexEdgesPercent([0, 1, 2, 3], 1)).toBeNull()
    expect(() => fatigueIndexEdgesPercent(thirty, 0)).toThrow(RangeError)
  })

  it('is 28.3688 % by thirds (1410 against 1010), and a remainder stays in the middle', () => {
    expect(workFatigueThirdsPercent(thirty)).toBeCloseTo(28.3688, 4)
    expect(workFatigueThirdsPercent([3, 99, 99, 99, 1])).toBeCloseTo((100 * (3 - 1)) / 3, 9)
    expect(workFatigueThirdsPercent([1, 2])).toBeNull()
    expect(workFatigueThirdsPercent([-1, 2, 3])).toBeNull()
  })

  it('has a slope of -2 N.m per repetition, which a missing repetition does not change', () => {
    const numbers = thirty.map((_, i) => i + 1)
    expect(fatigueSlope(numbers, thirty)).toBeCloseTo(-2, 9)
    const holes = numbers.filter((n) => n !== 7 && n !== 8)
    expect(
      fatigueSlope(
        holes,
        holes.map((n) => 152 - 2 * n),
      ),
    ).toBeCloseTo(-2, 9)
    expect(fatigueSlope([1, 2], [5, 4])).toBeNull()
    expect(() => fatigueSlope([1], [])).toThrow(RangeError)
  })

  it('has a percent decrement of 19.3333', () => {
    expect(percentDecrement(thirty)).toBeCloseTo(19.3333, 4)
    expect(percentDecrement([0, -1])).toBeNull()
  })
})

describe('per body mass and variation', () => {
  it('makes 3 N.m/kg of 225 N.m at 75 kg, and says why where it can’t', () => {
    expect(perBodyMass({ value: 225 }, 75)).toEqual({ value: 3 })
    expect(perBodyMass({ value: 225 }, null)).toEqual({ value: null, reason: 'body_mass_missing' })
    expect(perBodyMass({ value: null, reason: 'no_load_range' }, 75)).toEqual({ value: null, reason: 'no_load_range' })
    expect(() => perBodyMass({ value: 1 }, 0)).toThrow(RangeError)
  })

  it('makes the best of five 1.6 % better than the best of three at a variation of 5 %: why n goes with every best', () => {
    // Mean of the largest of n standard normal values: n times the integral of x phi(x) Phi(x)^(n - 1).
    const largestOf = (n: number): number => {
      const [step, density] = [0.01, (x: number) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI)]
      let total = 0
      for (let x = -8; x <= 8; x += step) total += n * x * density(x) * normalCdf(x) ** (n - 1) * step
      return total
    }
    const best = (n: number): number => 1 + 0.05 * largestOf(n)
    expect(100 * (best(5) - best(3))).toBeCloseTo(1.6, 1)
  })

  it('divides by n - 1: 1.737515 % for the five repetitions, not 1.554081 %', () => {
    expect(coefficientOfVariationPct([180, 186, 178, 184, 182])).toBeCloseTo(1.737515, 6)
  })
})
