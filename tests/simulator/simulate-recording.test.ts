import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { ADULT_SHANK, staticLimbWeighing } from '../../src/demo/simulator/limb.ts'
import { KNEE_EXTENSORS, torqueVelocityFactor } from '../../src/demo/simulator/muscle.ts'
import { seededRandom } from '../../src/demo/simulator/random.ts'
import { simulateRecording, type SimulationOptions } from '../../src/demo/simulator/simulate-recording.ts'

const SIMULATOR = new URL('../../src/demo/simulator/', import.meta.url)
const DEG = Math.PI / 180

/** No noise, no scatter, muscles that switch at once: every number has a closed form. */
const IDEAL: Partial<SimulationOptions> = {
  torqueNoiseNm: 0,
  angleNoiseDeg: 0,
  velocityNoiseDegS: 0,
  repetitionScatter: 0,
  activationTimeConstantS: 1e-9,
  deactivationTimeConstantS: 1e-9,
}

const concentric = (velocityDegS: number): SimulationOptions['directions'] => [
  { muscle: 'extension', mode: 'concentric', velocityDegS },
  { muscle: 'flexion', mode: 'concentric', velocityDegS },
]

describe('independence of the reference', () => {
  it('shares no code with the analysis: the simulator imports its own files only', () => {
    const files = readdirSync(SIMULATOR)
    expect(files.length).toBeGreaterThan(4)
    for (const file of files) {
      const source = readFileSync(new URL(file, SIMULATOR), 'utf8')
      const imported = [...source.matchAll(/(?:from\s+|import\s*\(\s*|import\s+)'([^']+)'/g)].map((match) => match[1]!)
      for (const specifier of imported) expect(specifier, file).toMatch(/^\.\/[a-z-]+\.ts$/)
    }
  })
})

describe('seeded random numbers', { timeout: 30_000 }, () => {
  it('repeat for the same seed and have the moments of a normal distribution', () => {
    const random = seededRandom(20261125)
    const again = seededRandom(20261125)
    const values = Array.from({ length: 100_000 }, () => random.normal())
    expect(values.slice(0, 5)).toEqual(Array.from({ length: 5 }, () => again.normal()))
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length
    const variance = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1)
    // Four standard errors of the mean and of the variance at this n.
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(values.length))
    expect(Math.abs(variance - 1)).toBeLessThan(4 * Math.sqrt(2 / values.length))
  })

  it('make the same recording from the same seed and another from another', () => {
    const options = { torqueNoiseNm: 1, repetitions: 1 }
    expect(simulateRecording({ ...options, seed: 4 }).torqueNm).toEqual(
      simulateRecording({ ...options, seed: 4 }).torqueNm,
    )
    expect(simulateRecording({ ...options, seed: 5 }).torqueNm).not.toEqual(
      simulateRecording({ ...options, seed: 4 }).torqueNm,
    )
  })
})

describe('truth', { timeout: 30_000 }, () => {
  it.each([
    // Range 90 deg, equal acceleration and deceleration; trapezoid algebra gives range - v^2 / a, and for the band
    // of 5 % range - 0.95^2 v^2 / a.
    [2000, 60, 88.2, 88.3755],
    [2000, 180, 73.8, 75.3795],
    [2000, 300, 45, 49.3875],
    [2000, 400, 10, 17.8],
    [1000, 180, 57.6, 60.759],
  ])('at %d deg/s2 and %d deg/s has the ranges of a trapezoid', (acceleration, velocity, constant, band) => {
    const { truth } = simulateRecording({
      ...IDEAL,
      repetitions: 1,
      directions: concentric(velocity),
      accelerationDegS2: acceleration,
      decelerationDegS2: acceleration,
    })
    // The fine grid cuts each edge by less than one step of 0.1 ms.
    const step = 2 * velocity * 1e-4 + 1e-9
    expect(truth).toHaveLength(2)
    for (const { constantVelocity, band: inBand, rangeOfMotionDeg } of truth) {
      expect(Math.abs(rangeOfMotionDeg - 90)).toBeLessThan(step)
      expect(Math.abs(constantVelocity!.rangeDeg - constant)).toBeLessThan(step)
      expect(Math.abs(inBand!.rangeDeg - band)).toBeLessThan(step)
    }
  })

  it('has no peak where the set speed is never held', () => {
    const { truth } = simulateRecording({
      ...IDEAL,
      repetitions: 1,
      directions: concentric(400),
      accelerationDegS2: 1000,
      decelerationDegS2: 1000,
    })
    expect(truth.map(({ peak, constantVelocity, band }) => [peak, constantVelocity, band])).toEqual([
      [null, null, null],
      [null, null, null],
    ])
  })

  it('equals the closed form of torque and the integral of torque over angle', () => {
    const { truth } = simulateRecording({ ...IDEAL, repetitions: 1 })
    const extension = truth[0]!
    const top = 210 * torqueVelocityFactor(KNEE_EXTENSORS, 60)
    expect(extension.peak!.torqueNm).toBeCloseTo(top, 3)
    // 60 deg/s moves the optimum of 62 deg by 2.4 deg.
    expect(extension.peak!.angleDeg).toBeCloseTo(59.6, 1)
    // Simpson's rule over the range at constant speed, 94.4 to 5.6 deg.
    const bell = (angle: number): number => top * Math.exp(-(((angle - 59.6) / 50) ** 2))
    const n = 2000
    const h = 88.8 / n
    let sum = bell(5.6) + bell(94.4)
    for (let i = 1; i < n; i++) sum += bell(5.6 + i * h) * (i % 2 === 1 ? 4 : 2)
    expect(extension.constantVelocity!.workJ).toBeCloseTo(((sum * h) / 3) * DEG, 1)
  })

  it('knows nothing of noise, gravity, overshoot, impact and drift', () => {
    const clean = simulateRecording({ ...IDEAL, repetitions: 1 }).truth[0]!
    const dirty = simulateRecording({
      ...IDEAL,
      repetitions: 1,
      torqueNoiseNm: 2,
      overshootFraction: 0.1,
      impactTorqueNm: 40,
      torqueDriftNmPerMin: 5,
      limb: { ...ADULT_SHANK, gravityMomentNm: 20 },
    }).truth[0]!
    expect(dirty.peak!.torqueNm).toBeCloseTo(clean.peak!.torqueNm, 3)
    expect(dirty.peak!.angleDeg).toBeCloseTo(clean.peak!.angleDeg, 1)
  })

  it('says when the peak is cut off by the edge of the constant part', () => {
    // At 400 deg/s the flexors are past their best angle before the speed is constant.
    const fast = simulateRecording({ repetitions: 1, directions: concentric(400), overshootFraction: 0.1 })
    expect(fast.truth[1]!.constantVelocity!.peakAtEdge).toBe(true)
    expect(simulateRecording({ repetitions: 1 }).truth[1]!.constantVelocity!.peakAtEdge).toBe(false)
  })

  it('falls with fatigue, repetition by repetition', () => {
    const { truth } = simulateRecording({ ...IDEAL, repetitions: 4, fatiguePerRepetition: 0.1 })
    const peaks = truth.filter(({ direction }) => direction.muscle === 'extension').map(({ peak }) => peak!.torqueNm)
    expect(peaks).toHaveLength(4)
    for (let i = 1; i < 4; i++) expect(peaks[i]! / peaks[i - 1]!).toBeCloseTo(0.9, 6)
  })

  it('of a repetition that breaks off covers the short range only', () => {
    const { truth } = simulateRecording({ repetitions: 3, brokenOff: new Map([[2, 0.2]]) })
    const ranges = truth.map(({ rangeOfMotionDeg }) => Math.round(rangeOfMotionDeg))
    expect(ranges).toEqual([90, 90, 18, 18, 90, 90])
  })
})

describe('muscle', () => {
  it('gives less the faster it shortens and more when lengthened', () => {
    const factors = [-180, -60, 0, 60, 180, 300, 1200].map((speed) => torqueVelocityFactor(KNEE_EXTENSORS, speed))
    for (let i = 1; i < factors.length; i++) expect(factors[i]!).toBeLessThan(factors[i - 1]!)
    expect(factors[2]).toBe(1)
    expect(factors[6]).toBe(0)
    // Published means stand at 0.70 and 0.56 (Fousekis 2010 J Sports Sci Med 9:364); the model is a likeness only.
    expect(factors[4]! / factors[3]!).toBeCloseTo(0.72, 1)
    expect(factors[5]! / factors[3]!).toBeCloseTo(0.55, 1)
  })

  it('is stronger when lengthened than when it shortens, in the recording too', () => {
    const one = (mode: 'concentric' | 'eccentric'): number =>
      simulateRecording({
        repetitions: 1,
        repetitionScatter: 0,
        directions: [{ muscle: 'extension', mode, velocityDegS: 60 }],
      }).truth[0]!.peak!.torqueNm
    expect(one('eccentric')).toBeGreaterThan(1.2 * one('concentric'))
  })

  it('holds an isometric plateau at the chosen angle', () => {
    const { truth, torqueNm, timeS } = simulateRecording({
      ...IDEAL,
      repetitions: 2,
      isometricAngleDeg: 70,
      directions: [{ muscle: 'extension', mode: 'isometric', velocityDegS: 0 }],
    })
    const expected = 210 * Math.exp(-((8 / 50) ** 2))
    expect(truth.map(({ peak }) => peak!.torqueNm)).toEqual([expect.closeTo(expected, 6), expect.closeTo(expected, 6)])
    expect(truth[0]!.peak!.angleDeg).toBe(70)
    const middle = timeS.findIndex((t) => t > 2)
    expect(torqueNm[middle]).toBeCloseTo(expected - 12 * Math.cos(70 * DEG), 6)
  })
})

describe('recording', { timeout: 30_000 }, () => {
  it('reads the weight of the relaxed limb before the first movement, pulling towards flexion', () => {
    const { torqueNm } = simulateRecording({ ...IDEAL, repetitions: 1, flexionEndDeg: 60 })
    expect(torqueNm[0]).toBeCloseTo(-12 * Math.cos(60 * DEG), 9)
  })

  it('weighs the limb with the same law', () => {
    const reading = staticLimbWeighing(ADULT_SHANK, 35)
    expect(reading.limbAngleBelowHorizontalDeg).toBe(35)
    expect(reading.torqueNm).toBeCloseTo(12 * Math.cos(35 * DEG), 12)
    expect(staticLimbWeighing({ ...ADULT_SHANK, thighRaiseDeg: 5 }, 35).limbAngleBelowHorizontalDeg).toBe(30)
  })

  it('obeys the equation of motion at every sample', () => {
    const gravityFree = { ...ADULT_SHANK, gravityMomentNm: 0, inertiaKgM2: 0 }
    const muscle = simulateRecording({ ...IDEAL, repetitions: 2, overshootFraction: 0.1, limb: gravityFree })
    const whole = simulateRecording({ ...IDEAL, repetitions: 2, overshootFraction: 0.1 })
    const { angleDeg, velocityDegS, sampleRateHz } = whole
    let compared = 0
    for (let i = 2; i < angleDeg.length - 2; i++) {
      const before = (velocityDegS[i]! - velocityDegS[i - 1]!) * sampleRateHz
      const after = (velocityDegS[i + 1]! - velocityDegS[i]!) * sampleRateHz
      // A difference quotient says nothing where the acceleration jumps.
      if (Math.abs(before - after) > 60) continue
      const flexionAcceleration = (before + after) / 2
      const expected =
        muscle.torqueNm[i]! - 12 * Math.cos(angleDeg[i]! * DEG) + ADULT_SHANK.inertiaKgM2 * flexionAcceleration * DEG
      expect(Math.abs(whole.torqueNm[i]! - expected)).toBeLessThan(0.02)
      expect(Math.abs((angleDeg[i + 1]! - angleDeg[i - 1]!) * (sampleRateHz / 2) - velocityDegS[i]!)).toBeLessThan(0.2)
      compared++
    }
    expect(compared).toBeGreaterThan(0.9 * angleDeg.length)
  })

  it('does not contain gravity when the machine has already corrected it', () => {
    const corrected = simulateRecording({ ...IDEAL, repetitions: 1, torqueState: 'gravity_corrected' })
    const measured = simulateRecording({ ...IDEAL, repetitions: 1 })
    for (let i = 0; i < corrected.torqueNm.length; i += 97) {
      const pull = 12 * Math.cos(measured.angleDeg[i]! * DEG)
      expect(corrected.torqueNm[i]! - measured.torqueNm[i]!).toBeCloseTo(pull, 9)
    }
  })

  it('turns signs and zero with the declared convention and leaves the truth alone', () => {
    const plain = simulateRecording({ ...IDEAL, repetitions: 1 })
    const turned = simulateRecording({
      ...IDEAL,
      repetitions: 1,
      torquePositive: 'flexion',
      anglePositive: 'extension',
      readingAtAnatomicalZeroDeg: 90,
    })
    const unsigned = simulateRecording({ ...IDEAL, repetitions: 1, torquePositive: 'unsigned' })
    expect(turned.truth).toEqual(plain.truth)
    for (let i = 0; i < plain.torqueNm.length; i += 53) {
      expect(turned.torqueNm[i]).toBeCloseTo(-plain.torqueNm[i]!, 12)
      expect(turned.angleDeg[i]).toBeCloseTo(90 - plain.angleDeg[i]!, 12)
      expect(turned.velocityDegS[i]).toBeCloseTo(-plain.velocityDegS[i]!, 12)
      expect(unsigned.torqueNm[i]).toBeCloseTo(Math.abs(plain.torqueNm[i]!), 12)
    }
  })

  it('carries the torque spike of a caught limb, and the creep of the zero', () => {
    const calm = simulateRecording({ ...IDEAL, repetitions: 1, overshootFraction: 0.1 })
    const spiked = simulateRecording({ ...IDEAL, repetitions: 1, overshootFraction: 0.1, impactTorqueNm: 40 })
    const excess = spiked.torqueNm.map((torque, i) => torque - calm.torqueNm[i]!)
    expect(Math.max(...excess)).toBeGreaterThan(39)
    expect(Math.min(...excess)).toBeLessThan(-39)
    expect(Math.max(...spiked.velocityDegS.map(Math.abs))).toBeCloseTo(66, 1)
    const drifting = simulateRecording({ ...IDEAL, repetitions: 1, overshootFraction: 0.1, torqueDriftNmPerMin: 6 })
    const last = calm.torqueNm.length - 1
    expect(drifting.torqueNm[last]! - calm.torqueNm[last]!).toBeCloseTo(calm.timeS[last]! / 10, 9)
  })

  it.each([50, 100, 333, 1000, 5000])('at %d Hz has evenly spaced samples and the same truth', (sampleRateHz) => {
    const { timeS, truth } = simulateRecording({ ...IDEAL, repetitions: 1, sampleRateHz })
    for (let i = 1; i < timeS.length; i += 101) expect(timeS[i]).toBeCloseTo(i / sampleRateHz, 9)
    expect(truth[0]!.peak!.torqueNm).toBeCloseTo(210 * torqueVelocityFactor(KNEE_EXTENSORS, 60), 2)
  })

  it('carries the limb back relaxed between repetitions in a single direction', () => {
    const { truth, torqueNm, angleDeg, velocityDegS } = simulateRecording({
      ...IDEAL,
      repetitions: 3,
      directions: [{ muscle: 'extension', mode: 'concentric', velocityDegS: 60 }],
    })
    expect(truth).toHaveLength(3)
    let returning = 0
    const atReturnSpeed = (i: number): boolean => Math.abs(velocityDegS[i]! - 45) < 1e-9
    for (let i = 1; i < angleDeg.length - 1; i++) {
      if (!atReturnSpeed(i - 1) || !atReturnSpeed(i) || !atReturnSpeed(i + 1)) continue
      expect(torqueNm[i]).toBeCloseTo(-12 * Math.cos(angleDeg[i]! * DEG), 6)
      returning++
    }
    expect(returning).toBeGreaterThan(5000)
  })

  it('refuses what cannot be simulated', () => {
    expect(() => simulateRecording({ sampleRateHz: 20 })).toThrow(RangeError)
    expect(() => simulateRecording({ directions: [] })).toThrow(RangeError)
    expect(() =>
      simulateRecording({
        directions: [
          { muscle: 'extension', mode: 'concentric', velocityDegS: 60 },
          { muscle: 'flexion', mode: 'eccentric', velocityDegS: 60 },
        ],
      }),
    ).toThrow(/opposite ways/)
  })
})
