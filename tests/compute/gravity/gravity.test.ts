import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  analyseRecording,
  assessableWithGravityUnknown,
  compareWeighings,
  correctForGravity,
  correctionFor,
  coveredAngles,
  fitPhaseShifted,
  gravityMomentNm,
  kneeInertiaKgM2,
  kneeMomentDeLevaNm,
  limbMomentDempsterNm,
  limbOrientation,
  passiveTorqueNm,
  sweepTable,
  weighingPlausibility,
  weighLimb,
  workJ,
} from '../../../src/compute/index.ts'
import type { GravityModel, LimbOrientation, LimbWeighing, WeighingContext } from '../../../src/compute/index.ts'
import { concentric, kneeTorque, protocolOf, recordingOf, trapezoids } from '../hand-made-recording.ts'

const SEATED: LimbOrientation = { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 }
const cosine = (momentNm: number, orientation = SEATED): GravityModel => ({ kind: 'cosine', momentNm, orientation })
const at = (model: GravityModel, angle: number) => passiveTorqueNm(model, angle)
const to4 = (value: number | null) => Number(value?.toFixed(4))

describe('limb estimate from the body (Dempster via Winter 2009; de Leva 1996)', () => {
  it('gives the gravity moment of foot and shank at 75 kg and 1.75 m, angle by angle', () => {
    expect(limbMomentDempsterNm('knee', 75, 1.75)).toBeCloseTo(11.7046, 4)
    const model = cosine(limbMomentDempsterNm('knee', 75, 1.75)!)
    expect([0, 15, 30, 45, 60, 75, 90].map((angle) => to4(at(model, angle)! * -1) + 0)).toEqual([
      11.7046, 11.3058, 10.1365, 8.2764, 5.8523, 3.0294, 0,
    ])
    expect(to4(at(cosine(11.7046, limbOrientation('knee', 'extension', 'seated', 5)!), 60))).toBe(-6.7135)
  })

  it('gives de Leva’s lower answer, for a man and a woman', () => {
    expect(kneeMomentDeLevaNm('male', 75, 1.75)).toBeCloseTo(10.3635, 4)
    expect(kneeMomentDeLevaNm('female', 60, 1.65)).toBeCloseTo(8.08, 2)
    expect(limbMomentDempsterNm('knee', 60, 1.65)).toBeCloseTo(8.83, 2)
  })

  it('gives gravity’s work over a range and the torque inertia adds outside constant velocity', () => {
    const angle = Float64Array.from({ length: 9001 }, (_, i) => 90 - i / 100)
    const pull = angle.map((a) => 11.7046 * Math.cos((a * Math.PI) / 180))
    expect(workJ(pull, angle, 1, 1, 0, 9000)).toBeCloseTo(11.7046, 4)
    expect(workJ(pull, angle, 1, 1, 3000, 9000)).toBeCloseTo(10.1365, 3)
    const inertia = kneeInertiaKgM2(75, 1.75)
    expect(inertia).toBeCloseTo(0.45805, 5)
    expect((inertia * 1000 * Math.PI) / 180).toBeCloseTo(7.9945, 4)
    const kinetic = [60, 180, 300].map((v) => Number(((inertia * ((v * Math.PI) / 180) ** 2) / 2).toFixed(4)))
    expect(kinetic).toEqual([0.2512, 2.2604, 6.2788])
  })

  it('knows the other limbs and refuses nonsense', () => {
    expect(limbMomentDempsterNm('hip', 75, 1.75)).toBeCloseTo(0.161 * 75 * 9.80665 * 0.447 * 0.491 * 1.75, 9)
    // Mass fraction, centre of mass and length fraction of the tables.
    const level = (mass: number, centre: number, length: number) => mass * 75 * 9.80665 * centre * length * 1.75
    expect(limbMomentDempsterNm('elbow', 75, 1.75)).toBeCloseTo(level(0.022, 0.682, 0.146), 9)
    expect(limbMomentDempsterNm('shoulder', 75, 1.75)).toBeCloseTo(level(0.05, 0.53, 0.186 + 0.146), 9)
    expect(limbMomentDempsterNm('wrist', 75, 1.75)).toBeCloseTo(level(0.006, 0.506, 0.108), 9)
    expect(limbMomentDempsterNm('ankle', 75, 1.75)).toBeCloseTo(level(0.0145, 0.5, 0.152), 9)
    expect(limbMomentDempsterNm('trunk', 75, 1.75)).toBeNull()
    for (const [mass, height] of [
      [0, 1.75],
      [-75, 1.75],
      [Infinity, 1.75],
      [75, 0],
      [75, -1],
      [75, Infinity],
      [75, Number.NaN],
    ] as const) {
      expect(() => limbMomentDempsterNm('knee', mass, height)).toThrow('body mass and height must be positive')
      expect(() => kneeMomentDeLevaNm('male', mass, height)).toThrow('body mass and height must be positive')
      expect(() => kneeInertiaKgM2(mass, height)).toThrow('body mass and height must be positive')
    }
  })
})

describe('limb weighing at one angle (Nelson & Duncan 1983; Winter, Wells & Orr 1981)', () => {
  it('turns 12 N.m at 30 deg into 13.8564, and corrects both directions by one signed rule', () => {
    const moment = gravityMomentNm(12, 30)!
    expect(moment).toBeCloseTo(13.8564, 4)
    const corrected = correctForGravity(Float64Array.of(180, -100), Float64Array.of(60, 30), cosine(moment))
    expect(corrected[0]).toBeCloseTo(186.9282, 4)
    expect(corrected[1]).toBeCloseTo(-88, 9)
    expect(100 / 180).toBeCloseTo(0.5556, 4)
    expect(-corrected[1]! / corrected[0]!).toBeCloseTo(0.4708, 4)
  })

  it('shows what correcting twice would do to that ratio: 0.392', () => {
    const model = cosine(gravityMomentNm(12, 30)!)
    const angles = Float64Array.of(60, 30)
    const twice = correctForGravity(correctForGravity(Float64Array.of(180, -100), angles, model), angles, model)
    expect(-twice[1]! / twice[0]!).toBeCloseTo(0.392, 3)
  })

  it('refuses a limb weighed nearer to vertical than 60 deg', () => {
    expect(gravityMomentNm(12, 60)).toBeCloseTo(24, 9)
    expect(gravityMomentNm(12, 60.5)).toBeNull()
    expect(gravityMomentNm(12, 85)).toBeNull()
    expect(() => gravityMomentNm(Number.NaN, 30)).toThrow(RangeError)
    // What an error of 1 N.m becomes at 30 and at 85 deg.
    expect(gravityMomentNm(1, 30)).toBeCloseTo(1.15, 2)
    expect(1 / Math.cos((85 * Math.PI) / 180)).toBeCloseTo(11.47, 2)
  })
})

describe('passive moment weighed as limb (why 30 to 45 deg is better than near extension)', () => {
  it.each([
    [0, 3, 3.0],
    [30, 1, 1.15],
    [45, 0.5, 0.71],
  ])('at %i deg, %f N.m of passive hamstrings add %f N.m to the moment', (angle, passiveNm, addedNm) => {
    const moment = 11.7046
    const read = moment * Math.cos((angle * Math.PI) / 180) + passiveNm
    expect(gravityMomentNm(read, angle)! - moment).toBeCloseTo(addedNm, 2)
  })
})

describe('limb weighing at several angles (phase-shifted; Anderson et al. 2010)', () => {
  const angles = [0, 15, 30, 45, 60, 75, 90]
  const readings = [12, 11.0735, 9.3923, 7.0711, 4.2679, 1.174, -2]

  it('finds amplitude and phase of the published fit', () => {
    const fit = fitPhaseShifted(angles, readings)!
    expect(fit.cosineNm).toBeCloseTo(12, 3)
    expect(fit.sineNm).toBeCloseTo(-2, 3)
    expect(fit.amplitudeNm).toBeCloseTo(12.1655, 3)
    expect(fit.phaseDeg).toBeCloseTo(9.4623, 3)
    expect(fit.residualSdNm).toBeLessThan(1e-4)
  })

  it('finds mass in front of the arm’s line as well as behind it', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 30, noNaN: true }),
        fc.double({ min: -10, max: 10, noNaN: true }),
        (a, b) => {
          const torque = angles.map(
            (angle) => a * Math.cos((angle * Math.PI) / 180) + b * Math.sin((angle * Math.PI) / 180),
          )
          const fit = fitPhaseShifted(angles, torque)!
          expect(fit.cosineNm).toBeCloseTo(a, 9)
          expect(fit.sineNm).toBeCloseTo(b, 9)
        },
      ),
      { seed: 20261125, numRuns: 100 },
    )
  })

  it('has no answer where the angles do not tell cosine from sine', () => {
    expect(fitPhaseShifted([], [])).toBeNull()
    expect(fitPhaseShifted([30], [10])).toBeNull()
    expect(fitPhaseShifted([90, -90], [10, 10])).toBeNull()
    // Three readings off any curve by 1, -2, 1 N.m: their spread on n - 2.
    const scattered = fitPhaseShifted([-60, 0, 60], [6, 9, 6])!
    expect(scattered.sineNm).toBeCloseTo(0, 12)
    expect(scattered.cosineNm).toBeCloseTo(10, 12)
    expect(scattered.residualSdNm).toBeCloseTo(Math.sqrt(3), 12)
    expect(fitPhaseShifted([30, 31], [10, 10])).toBeNull()
    expect(fitPhaseShifted([20, 40], [10, 9])!.residualSdNm).toBeNull()
    expect(() => fitPhaseShifted([1, 2], [1])).toThrow(RangeError)
    expect(() => fitPhaseShifted([1, Infinity], [1, 2])).toThrow(RangeError)
  })
})

describe('passive sweep', () => {
  const sweep = (): { angle: number[]; torque: number[] } => {
    const angle = Array.from({ length: 181 }, (_, i) => (i <= 90 ? i : 180 - i))
    // Friction of 1.5 N.m against the movement: up one way, down the other.
    return { angle, torque: angle.map((a, i) => 13 - 0.1 * a + (i <= 90 ? 1.5 : -1.5)) }
  }

  it('averages both ways, so that friction cancels, and never extrapolates', () => {
    const { angle, torque } = sweep()
    const table = sweepTable(angle, torque, SEATED)!
    const model: GravityModel = { kind: 'passive_sweep', ...table }
    expect(at(model, 45)).toBeCloseTo(-8.5, 9)
    expect(at(model, 90.5)).toBeNull()
    expect(coveredAngles(model)).toEqual([0, 90])
    expect(coveredAngles(cosine(10))).toBeNull()
  })

  it('is a table in ascending order, one row for each degree, signed for the first movement', () => {
    const both = sweepTable([5.2, 0, 2.6, 3.4, 4.8], [8, 12, 10, 9, 8.5], SEATED)
    expect(both).toEqual({ angleDeg: [0, 3, 5], passiveTorqueNm: [-12, -9.5, -8.25] })
    const prone = sweepTable([-3, 3], [10, 12], { belowHorizontalAtZeroDeg: 0, perJointDegree: -1 })
    expect(prone).toBeNull()
    const steps = sweepTable([-4, 1, 5], [10, 11, 12], { belowHorizontalAtZeroDeg: 0, perJointDegree: -1 })
    expect(steps).toEqual({ angleDeg: [-4, 1, 5], passiveTorqueNm: [10, 11, 12] })
  })

  it('is refused where it is short or broken', () => {
    expect(sweepTable([], [], SEATED)).toBeNull()
    expect(sweepTable([10, 15], [1, 1], SEATED)).not.toBeNull()
    expect(sweepTable([10, 14.9], [1, 1], SEATED)).toBeNull()
    expect(() => sweepTable([0, 5], [1], SEATED)).toThrow('as many torques as angles')
    expect(() => sweepTable([0, 5], [1, Infinity], SEATED)).toThrow('a sweep needs finite numbers')
    expect(sweepTable([0, 4], [1, 1], SEATED)).toBeNull()
    expect(sweepTable([0, 2, 12], [1, 1, 1], SEATED)).toBeNull()
    expect(() => sweepTable([0, Number.NaN], [1, 1], SEATED)).toThrow(RangeError)
  })

  it('cuts the load range to the angles it covers', () => {
    const { angle, torque } = sweep()
    const table = sweepTable(angle.slice(20, 71), torque.slice(20, 71), SEATED)!
    const recording = recordingOf(trapezoids([90, 0, 90], 60, 2000), kneeTorque(180, 100), { torqueState: 'measured' })
    const { directions } = analyseRecording(
      recording,
      protocolOf([concentric('extension', 60), concentric('flexion', 60)], {
        gravity: { kind: 'passive_sweep', ...table },
      }),
    )
    for (const { repetitions } of directions) {
      const { startAngleDeg, endAngleDeg } = repetitions[0]!.loadRange!
      expect(Math.min(startAngleDeg, endAngleDeg)).toBeGreaterThanOrEqual(20)
      expect(Math.max(startAngleDeg, endAngleDeg)).toBeLessThanOrEqual(70)
      expect(repetitions[0]!.measures.loadRange.value).toBeGreaterThan(49)
    }
  })
})

describe('a weighing as a model', () => {
  const single: LimbWeighing = {
    method: 'single_angle',
    limbAngleBelowHorizontalDeg: 35,
    torqueNm: 10.8,
    armTared: 'no',
    afterLastAdjustment: 'yes',
  }
  it('gives a cosine from one angle', () => {
    expect(weighLimb(single, SEATED)).toMatchObject({ reason: null, findings: [], model: { kind: 'cosine' } })
    expect(weighLimb(single, SEATED).momentNm).toBeCloseTo(13.18, 2)
  })

  it.each([
    [{ ...single, afterLastAdjustment: 'no' }, 'weighed_before_last_adjustment'],
    [{ ...single, limbAngleBelowHorizontalDeg: 80 }, 'weighed_too_near_vertical'],
    [{ ...single, torqueNm: -3 }, 'weighing_not_positive'],
    [{ ...single, torqueNm: 0 }, 'weighing_not_positive'],
    [
      {
        ...single,
        method: 'several_angles',
        readings: [0, 45, 90].map((angle) => ({
          limbAngleBelowHorizontalDeg: angle,
          torqueNm: -5 * Math.cos((angle * Math.PI) / 180) + 2 * Math.sin((angle * Math.PI) / 180),
        })),
      },
      'weighing_not_positive',
    ],
    [{ ...single, method: 'passive_sweep', angleDeg: [0, 5, 10], torqueNm: [-1, -2, -1] }, 'weighing_not_positive'],
    [{ ...single, method: 'passive_sweep', angleDeg: [0, 5, 10], torqueNm: [0, 0, 0] }, 'weighing_not_positive'],
    [{ ...single, method: 'several_angles', readings: [] }, 'readings_do_not_settle_the_fit'],
    [{ ...single, method: 'passive_sweep', angleDeg: [1], torqueNm: [1] }, 'sweep_too_short_or_broken'],
  ] as [LimbWeighing, string][])('is void with a reason %#', (weighing, reason) => {
    expect(weighLimb(weighing, SEATED)).toEqual({ model: null, momentNm: null, reason, findings: [] })
  })

  it('says when the time of weighing is unknown, or the limb lay level', () => {
    const unknown = weighLimb({ ...single, afterLastAdjustment: 'unknown' }, SEATED)
    expect(unknown.findings).toEqual([expect.objectContaining({ code: 'weighing_time_unknown', level: 'caution' })])
    const level = weighLimb({ ...single, limbAngleBelowHorizontalDeg: 5 }, SEATED)
    expect(level.findings).toEqual([expect.objectContaining({ code: 'weighed_near_level', level: 'note' })])
    for (const [angle, count] of [
      [-14.9, 1],
      [14.9, 1],
      [15, 0],
      [-15, 0],
    ] as const) {
      expect(weighLimb({ ...single, limbAngleBelowHorizontalDeg: angle }, SEATED).findings).toHaveLength(count)
    }
  })

  it('gives a phase-shifted model from several angles and a table from a sweep', () => {
    const readings = [0, 30, 60].map((angle) => ({
      limbAngleBelowHorizontalDeg: angle,
      torqueNm: 12 * Math.cos((angle * Math.PI) / 180) - 2 * Math.sin((angle * Math.PI) / 180),
    }))
    const several = weighLimb(
      { method: 'several_angles', readings, armTared: 'no', afterLastAdjustment: 'yes' },
      SEATED,
    )
    expect(several.momentNm).toBeCloseTo(12.1655, 4)
    expect(at(several.model!, 30)).toBeCloseTo(-readings[1]!.torqueNm, 9)
    const angleDeg = Array.from({ length: 91 }, (_, i) => i)
    const swept = weighLimb(
      {
        method: 'passive_sweep',
        angleDeg,
        torqueNm: angleDeg.map((a) => 12 - a / 10),
        armTared: 'no',
        afterLastAdjustment: 'yes',
      },
      SEATED,
    )
    expect(swept.momentNm).toBeCloseTo(12, 9)
    expect(at(swept.model!, 20)).toBeCloseTo(-10, 9)
  })
})

describe('other joints and positions', () => {
  it.each([
    // A limb that hangs has no moment; one that is level has all of it, and it sinks.
    ['knee', 'flexion', 'seated', 0, -1],
    ['knee', 'flexion', 'prone', 0, 1],
    ['hip', 'flexion', 'supine', 0, 1],
    ['hip', 'extension', 'prone', 0, -1],
    ['hip', 'flexion', 'standing', 0, 0],
    ['hip', 'flexion', 'standing', 90, 1],
    ['hip', 'abduction', 'side_lying', 0, 1],
    ['elbow', 'flexion', 'supine', 0, 1],
    ['elbow', 'flexion', 'seated', 90, 1],
    ['trunk', 'flexion', 'standing', 0, 0],
    ['trunk', 'flexion', 'standing', 90, -1],
  ] as const)('%s %s %s at %i deg: %i of the moment', (joint, movement, position, angle, part) => {
    const model = cosine(10, limbOrientation(joint, movement, position)!)
    expect(at(model, angle)).toBeCloseTo(10 * part, 9)
  })

  it('does not reuse the knee’s rule where the position does not settle it', () => {
    expect(limbOrientation('ankle', 'dorsiflexion', 'supine')).toBeNull()
    expect(limbOrientation('shoulder', 'external_rotation', 'seated')).toBeNull()
    expect(() => limbOrientation('knee', 'flexion', 'seated', Number.NaN)).toThrow('segmentRaisedDeg must be finite')
  })

  it('takes nothing off in a horizontal plane', () => {
    expect(at({ kind: 'horizontal_plane' }, 40)).toBe(0)
    expect(correctForGravity(Float64Array.of(5), Float64Array.of(40), { kind: 'horizontal_plane' })[0]).toBe(5)
  })
})

describe('laws of the correction', () => {
  const models = fc.oneof(
    fc.record({
      kind: fc.constant('cosine' as const),
      momentNm: fc.double({ min: 0, max: 40, noNaN: true }),
      orientation: fc.record({
        belowHorizontalAtZeroDeg: fc.double({ min: -90, max: 90, noNaN: true }),
        perJointDegree: fc.constantFrom<1 | -1>(1, -1),
      }),
    }),
    fc.record({
      kind: fc.constant('phase_shifted' as const),
      cosineNm: fc.double({ min: 0, max: 40, noNaN: true }),
      sineNm: fc.double({ min: -10, max: 10, noNaN: true }),
      orientation: fc.record({
        belowHorizontalAtZeroDeg: fc.double({ min: -90, max: 90, noNaN: true }),
        perJointDegree: fc.constantFrom<1 | -1>(1, -1),
      }),
    }),
    fc.constant<GravityModel>({ kind: 'passive_sweep', angleDeg: [-20, 30, 150], passiveTorqueNm: [-14, -9, 3] }),
    fc.constant<GravityModel>({ kind: 'horizontal_plane' }),
  )
  it('adding gravity and then correcting for it is the identity', () => {
    fc.assert(
      fc.property(
        models,
        fc.array(
          fc.tuple(fc.double({ min: -300, max: 300, noNaN: true }), fc.double({ min: -20, max: 150, noNaN: true })),
          {
            minLength: 1,
          },
        ),
        (model, samples) => {
          const angle = Float64Array.from(samples, ([, a]) => a)
          const measured = Float64Array.from(samples, ([torque, a]) => torque + passiveTorqueNm(model, a)!)
          const corrected = correctForGravity(measured, angle, model)
          samples.forEach(([torque], i) => expect(corrected[i]).toBeCloseTo(torque, 9))
        },
      ),
      { seed: 20261125, numRuns: 200 },
    )
  })
})

describe('what may be corrected', () => {
  const model = cosine(12)
  it('never corrects twice, and never what nobody knows', () => {
    expect(correctionFor('measured', model)).toEqual({ apply: model, corrected: 'yes', name: 'limb_weighing_cosine' })
    expect(correctionFor('measured', null)).toEqual({ apply: null, corrected: 'no', name: 'none' })
    expect(correctionFor('gravity_corrected', model)).toEqual({
      apply: null,
      corrected: 'yes',
      name: 'corrected_by_device',
    })
    expect(correctionFor('unknown', model)).toEqual({ apply: null, corrected: 'unknown', name: 'unknown' })
  })

  it('leaves peak torque of knee extension, with caution, and takes flexion and all work away', () => {
    expect(assessableWithGravityUnknown('peakTorque', 'knee', 'extension')).toBe('with_caution')
    expect(assessableWithGravityUnknown('workPerRepetition', 'knee', 'extension')).toBe('no')
    expect(assessableWithGravityUnknown('peakTorque', 'knee', 'flexion')).toBe('no')
    expect(assessableWithGravityUnknown('peakTorque', 'hip', 'extension')).toBe('no')
    expect(assessableWithGravityUnknown('rangeOfMotion', 'knee', 'flexion')).toBe('yes')
  })

  it('shows that in a whole analysis', () => {
    const recording = recordingOf(trapezoids([90, 5, 90, 5, 90], 60, 2000), kneeTorque(180, 100))
    const directions = [concentric('extension', 60), concentric('flexion', 60)]
    const {
      gravityCorrected,
      directions: analysed,
      findings,
    } = analyseRecording({ ...recording, torqueState: 'unknown' }, protocolOf(directions, { gravity: cosine(12) }))
    const reason = { value: null, reason: 'gravity_correction_unknown' }
    expect(gravityCorrected).toBe('unknown')
    expect(findings).toContainEqual(expect.objectContaining({ code: 'gravity_correction_unknown', level: 'caution' }))
    const [extension, flexion] = analysed
    const untouched = analyseRecording(recording, protocolOf(directions)).directions[0]!
    expect(extension!.measures.peakTorque).toEqual(untouched.measures.peakTorque)
    expect(extension!.measures.workPerRepetition!.mean).toEqual(reason)
    expect(extension!.measures.totalWork!.total).toEqual(reason)
    expect(extension!.measures.averagePower!.best).toEqual(reason)
    expect(extension!.measures.workFatigueThirds!.total).toEqual(reason)
    expect(extension!.torqueAtAngle[0]!.best).toEqual(reason)
    expect(flexion!.measures.peakTorque!.best).toEqual(reason)
    expect(flexion!.measures.rangeOfMotion!.best!.value).toBeCloseTo(85, 0)
  })
})

describe('is a weighing plausible', () => {
  const given = {
    joint: 'knee',
    momentNm: 11,
    bodyMassKg: 75,
    heightM: 1.75,
    sex: 'male',
    armTared: 'yes',
    armAndAttachmentNm: null,
  } as const
  it('compares it with the limb, and with arm and attachment where they were not tared', () => {
    expect(weighingPlausibility(given).plausible).toBe('yes')
    expect(weighingPlausibility({ ...given, momentNm: 4 })).toMatchObject({
      plausible: 'no',
      reason: 'lighter_than_the_limb',
    })
    expect(weighingPlausibility({ ...given, momentNm: 19 })).toMatchObject({
      plausible: 'no',
      reason: 'heavier_than_the_limb',
    })
    // 2 kg at 25 cm: 4.9 N.m.
    const arm = 2 * 9.80665 * 0.25
    expect(arm).toBeCloseTo(4.9, 1)
    expect(weighingPlausibility({ ...given, momentNm: 19, armTared: 'no', armAndAttachmentNm: arm }).plausible).toBe(
      'yes',
    )
    expect(weighingPlausibility({ ...given, momentNm: 9, armTared: 'no', armAndAttachmentNm: arm }).plausible).toBe(
      'no',
    )
    expect(
      weighingPlausibility({ ...given, momentNm: 9, armTared: 'unknown', armAndAttachmentNm: arm }).plausible,
    ).toBe('yes')
  })

  it('says between which moments: 0.6 of the least to 1.5 of the largest estimate, and the arm where it was carried', () => {
    const [dempster, man, woman] = [
      limbMomentDempsterNm('knee', 75, 1.75)!,
      kneeMomentDeLevaNm('male', 75, 1.75),
      kneeMomentDeLevaNm('female', 75, 1.75),
    ]
    const bounds = (change: Partial<Parameters<typeof weighingPlausibility>[0]>) => {
      const { lowNm, highNm } = weighingPlausibility({ ...given, ...change })
      return [lowNm, highNm]
    }
    expect(man).toBeLessThan(woman)
    expect(bounds({})).toEqual([0.6 * man, 1.5 * dempster])
    expect(bounds({ sex: 'female' })).toEqual([0.6 * woman, 1.5 * dempster])
    expect(bounds({ sex: null })).toEqual([0.6 * man, 1.5 * dempster])
    expect(bounds({ armTared: 'no', armAndAttachmentNm: 5 })).toEqual([0.6 * man + 5, 1.5 * dempster + 5])
    expect(bounds({ armTared: 'unknown', armAndAttachmentNm: 5 })).toEqual([0.6 * man, 1.5 * dempster + 5])
    expect(bounds({ armTared: 'no', momentNm: 2 })).toEqual([0.6 * man, null])
    expect(bounds({ armTared: 'no' })).toEqual([null, null])
    const elbow = limbMomentDempsterNm('elbow', 75, 1.75)!
    expect(bounds({ joint: 'elbow' })).toEqual([0.6 * elbow, 1.5 * elbow])
    // The bounds themselves are plausible.
    expect(weighingPlausibility({ ...given, momentNm: 0.6 * man })).toMatchObject({ plausible: 'yes', reason: null })
    expect(weighingPlausibility({ ...given, momentNm: 1.5 * dempster }).plausible).toBe('yes')
  })

  it('is unknown without a body, a table, or a description of the arm; but too light is too light', () => {
    expect(weighingPlausibility({ ...given, heightM: null })).toEqual({
      plausible: 'unknown',
      reason: 'body_mass_or_height_missing',
      lowNm: null,
      highNm: null,
    })
    expect(weighingPlausibility({ ...given, bodyMassKg: null }).plausible).toBe('unknown')
    expect(weighingPlausibility({ ...given, joint: 'trunk' }).reason).toBe('joint_not_in_segment_tables')
    expect(weighingPlausibility({ ...given, armTared: 'no' }).reason).toBe('arm_and_attachment_not_described')
    expect(weighingPlausibility({ ...given, armTared: 'no', momentNm: 2 }).plausible).toBe('no')
    expect(() => weighingPlausibility({ ...given, momentNm: Number.NaN })).toThrow(RangeError)
  })
})

describe('two weighings of like limbs', () => {
  const left: WeighingContext = {
    momentNm: 13.2,
    bodyMassKg: 68.4,
    leverArmM: 0.3,
    attachment: 'shin-pad',
    armTared: 'no',
  }
  it('agree within 3 N.m and 20 %, in either order', () => {
    const right = { ...left, momentNm: 12.9 }
    expect(compareWeighings(left, right)).toMatchObject({ agree: 'yes', reason: null })
    expect(compareWeighings(right, left)).toEqual(compareWeighings(left, right))
    expect(compareWeighings(left, right).differenceNm).toBeCloseTo(0.3, 12)
    expect(compareWeighings(left, right).differencePercent).toBeCloseTo((100 * 0.3) / 13.05, 9)
    expect(compareWeighings({ ...left, momentNm: 30 }, { ...left, momentNm: 27 }).agree).toBe('yes')
    expect(compareWeighings({ ...left, momentNm: 11 }, { ...left, momentNm: 9 }).agree).toBe('yes')
    expect(compareWeighings({ ...left, momentNm: 0 }, { ...left, momentNm: 0 })).toEqual({
      agree: 'no',
      reason: 'weighings_too_far_apart',
      differenceNm: 0,
      differencePercent: null,
    })
    expect(() => compareWeighings(left, { ...left, momentNm: Number.NaN })).toThrow('momentNm must be finite')
    expect(() => compareWeighings({ ...left, momentNm: Infinity }, left)).toThrow('momentNm must be finite')
    expect(compareWeighings(left, { ...left, momentNm: 9.9 }).agree).toBe('no')
    expect(compareWeighings({ ...left, momentNm: 5 }, { ...left, momentNm: 3.5 }).agree).toBe('no')
    expect(compareWeighings({ ...left, momentNm: 30 }, { ...left, momentNm: 26.9 }).agree).toBe('no')
  })

  it.each([
    [{ attachment: null }, 'attachment_unknown'],
    [{ attachment: 'long-pad' }, 'attachment_differs'],
    [{ armTared: 'yes' }, 'taring_differs_or_unknown'],
    [{ armTared: 'unknown' }, 'taring_differs_or_unknown'],
    [{ leverArmM: null }, 'lever_arm_unknown'],
    [{ leverArmM: 0.32 }, 'lever_arm_differs'],
    [{ bodyMassKg: 75 }, 'body_mass_differs'],
  ] as [Partial<WeighingContext>, string][])(
    'can’t be compared where they are of another kind %#',
    (change, reason) => {
      expect(compareWeighings(left, { ...left, ...change })).toMatchObject({ agree: 'unknown', reason })
    },
  )

  it('holds unknown taring against both, an unknown body mass against neither', () => {
    const unknown = { ...left, armTared: 'unknown' } as const
    expect(compareWeighings(unknown, unknown).agree).toBe('unknown')
    const massless = { ...left, bodyMassKg: null }
    expect(compareWeighings(massless, left).agree).toBe('yes')
    expect(compareWeighings(left, massless).agree).toBe('yes')
    expect(compareWeighings(left, { ...left, bodyMassKg: 68.4 * 1.04 }).agree).toBe('yes')
    expect(compareWeighings(left, { ...left, bodyMassKg: 68.4 / 1.06 }).reason).toBe('body_mass_differs')
  })

  it('takes lever arms 10 mm apart as like', () => {
    expect(compareWeighings(left, { ...left, leverArmM: 0.31 }).agree).toBe('yes')
  })
})
