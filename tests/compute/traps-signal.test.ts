import { describe, expect, it } from 'vitest'
import {
  analyseRecording,
  butterworthLowpass,
  correctForGravity,
  DEFAULT_PARAMETERS,
  dualPassDesignCutoffHz,
  gainAtHz,
  limbMomentDempsterNm,
  MEASURE_UNITS,
  passCorrection,
  weighLimb,
  workJ,
} from '../../src/compute/index.ts'
import type { GravityModel, Recording } from '../../src/compute/index.ts'
import { concentric, kneeTorque, protocolOf, recordingOf, trapezoids } from './hand-made-recording.ts'

/** Mistakes that have been made with this kind of data, one test each. The numbers belong to one common list. */
describe('traps of signals and repetitions', () => {
  const course = trapezoids([90, 5, 90, 5, 90], 60, 2000)
  const both = [concentric('extension', 60), concentric('flexion', 60)]

  it('trap 1: gravity with the wrong sign is wrong by 2 G cos a, 20.27 N.m at 30 deg for G = 11.70 N.m', () => {
    const momentNm = limbMomentDempsterNm('knee', 75, 1.75)!
    const model = (sign: 1 | -1): GravityModel => ({
      kind: 'cosine',
      momentNm: sign * momentNm,
      orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 },
    })
    const at30 = (sign: 1 | -1) => correctForGravity(Float64Array.of(100), Float64Array.of(30), model(sign))[0]!
    expect(at30(1) - at30(-1)).toBeCloseTo(20.27, 2)
    // Seated, gravity helps flexion: extension goes up, flexion down.
    expect(at30(1)).toBeGreaterThan(100)
    const flexion = correctForGravity(Float64Array.of(-100), Float64Array.of(30), model(1))[0]!
    expect(Math.abs(flexion)).toBeLessThan(100)
    // Prone, the other way round.
    const prone = { ...model(1), orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: -1 } } as GravityModel
    expect(correctForGravity(Float64Array.of(100), Float64Array.of(30), prone)[0]).toBeLessThan(100)
  })

  it('trap 2: work integrates over radians; over degrees it would be 57.3 times as much', () => {
    const angle = Float64Array.from({ length: 91 }, (_, i) => i)
    const torque = new Float64Array(91).fill(100)
    expect(workJ(torque, angle, 1, -1, 0, 90)).toBeCloseTo(157.0796, 4)
    expect((100 * 90) / workJ(torque, angle, 1, -1, 0, 90)).toBeCloseTo(57.2958, 4)
  })

  it('names the unit of torque N.m and that of work J, although the dimension is the same', () => {
    expect(MEASURE_UNITS.peakTorque).toBe('N.m')
    expect(MEASURE_UNITS.workPerRepetition).toBe('J')
    expect(Object.values(MEASURE_UNITS)).not.toContain('Nm')
  })

  it('divides by n - 1 for the variation over the repetitions of a recording too', () => {
    let movement = -1
    let last = 0
    const recording = recordingOf(course, (angle, velocity) => {
      if (velocity > 0 && last <= 0) movement += 1
      last = velocity
      return kneeTorque(movement === 0 ? 150 : 170, 80)(angle, velocity)
    })
    const { repetitions, measures } = analyseRecording(recording, protocolOf(both)).directions[0]!
    const [one, two] = repetitions.map((repetition) => repetition.measures.peakTorque.value!)
    const withOneLess = (100 * (Math.abs(one! - two!) / Math.SQRT2)) / ((one! + two!) / 2)
    expect(measures.peakTorque!.coefficientOfVariation!.value).toBeCloseTo(withOneLess, 9)
    expect(withOneLess).toBeCloseTo(8.8, 1)
  })

  it('trap 11: the impact that ends a velocity overshoot is not the peak torque', () => {
    const spike = (i: number) => (i > 440 && i < 470 ? 120 * Math.sin((Math.PI * (i - 440)) / 30) : 0)
    const overshoot = (i: number) => (i > 430 && i < 475 ? 6 * Math.sin((Math.PI * (i - 430)) / 45) : 0)
    const outrun = { ...course, velocityDegS: course.velocityDegS.map((v, i) => v + overshoot(i)) }
    const clean = recordingOf(outrun, kneeTorque(180, 100))
    const struck = { ...clean, torqueNm: clean.torqueNm.map((x, i) => x + spike(i)) }
    expect(struck.torqueNm.reduce((a, b) => Math.max(a, b))).toBeGreaterThan(230)
    const peak = (recording: Recording) => {
      const { flags, measures } = analyseRecording(recording, protocolOf(both)).directions[0]!.repetitions[0]!
      return { flags, value: measures.peakTorque.value!, work: measures.workPerRepetition.value! }
    }
    expect(peak(struck).value).toBeCloseTo(peak(clean).value, 2)
    expect(peak(struck).value).toBeLessThan(180.5)
    expect(Math.abs(peak(struck).work / peak(clean).work - 1)).toBeLessThan(0.005)
    expect(peak(struck).flags).toContain('velocity_overshoot')
  })

  it('trap 12: a torque at an angle outside the load range is missing, never extrapolated', () => {
    const parameters = { ...DEFAULT_PARAMETERS, torqueAtAnglesDeg: [5.5, 60, 89.5, 120] }
    const { torqueAtAngle } = analyseRecording(
      recordingOf(course, kneeTorque(180, 100)),
      protocolOf(both, { parameters }),
    ).directions[0]!
    const missing = { value: null, reason: 'outside_load_range' }
    expect(torqueAtAngle.map(({ best }) => (best.value === null ? best : 'there'))).toEqual([
      missing,
      'there',
      missing,
      missing,
    ])
  })

  it('trap 13: dividing the cutoff itself by the correction lets through 0.723 at the cutoff, not 0.707', () => {
    const twoPass = (designHz: number) => gainAtHz(butterworthLowpass(2, designHz, 100), 10, 100) ** 2
    expect(twoPass(10 / passCorrection(2, 2))).toBeCloseTo(0.72287697, 8)
    expect(twoPass(dualPassDesignCutoffHz(10, 100, 2))).toBeCloseTo(Math.SQRT1_2, 9)
  })

  it('trap 14: at a velocity that is never held there is no torque value, but a reason', () => {
    const { counted, notCounted, measures } = analyseRecording(
      recordingOf(trapezoids([90, 0, 90], 300, 1000), kneeTorque(120, 80)),
      protocolOf([concentric('extension', 300), concentric('flexion', 300)]),
    ).directions[0]!
    expect(counted).toBe(0)
    expect(notCounted).toEqual([{ repetition: 1, reason: 'no_load_range' }])
    expect(measures.peakTorque!.mean).toEqual({ value: null, reason: 'no_load_range' })
  })

  it('trap 21: a pain-limited repetition is kept out of peak torque even where it is the highest', () => {
    const higher = recordingOf(course, (angle, velocity, time) => kneeTorque(time < 2 ? 200 : 150, 80)(angle, velocity))
    const best = (notes: readonly { repetition: number; count: 'no'; reason: string }[]) =>
      analyseRecording(higher, protocolOf(both, { repetitionNotes: notes })).directions[0]!.measures.peakTorque!.best
    expect(best([])).toMatchObject({ repetition: 1 })
    const without = best([{ repetition: 1, count: 'no', reason: 'pain' }])
    expect(without).toMatchObject({ repetition: 2, n: 1 })
    expect(without!.value).toBeLessThan(151)
  })

  it('corrects for gravity once: a recording the device corrected is left alone whatever weighing there is', () => {
    const { model } = weighLimb(
      {
        method: 'single_angle',
        limbAngleBelowHorizontalDeg: 30,
        torqueNm: 12,
        armTared: 'no',
        afterLastAdjustment: 'yes',
      },
      { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 },
    )
    const recording = recordingOf(course, kneeTorque(180, 100), { torqueState: 'gravity_corrected' })
    const weighed = analyseRecording(recording, protocolOf(both, { gravity: model }))
    const plain = analyseRecording(recording, protocolOf(both))
    expect(weighed.directions).toEqual(plain.directions)
    expect(weighed.findings.map(({ code }) => code)).toContain('gravity_corrected_by_device')
  })
})
