import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  analyseRecording,
  DEFAULT_PARAMETERS,
  findContractions,
  findLoadRange,
  findMovements,
  loadRangeDeg,
  movingPart,
  settledPart,
} from '../../../src/compute/index.ts'
import { concentric, kneeTorque, protocolOf, recordingOf, trapezoids, UNFILTERED } from '../hand-made-recording.ts'
import type { Course } from '../hand-made-recording.ts'

const rule = DEFAULT_PARAMETERS.loadRange
const movementRule = DEFAULT_PARAMETERS.movement

function loadRangeOf(course: Course, setDegS: number, changes: Partial<typeof rule> = {}, rate = 1000) {
  const angle = Float64Array.from(course.angleDeg)
  const velocity = Float64Array.from(course.velocityDegS)
  const [movement] = findMovements(angle, movementRule)
  const moving = movingPart(velocity, movement!, setDegS, movementRule.minimumPercentOfSetVelocity)
  if (moving === null) return { refused: 'positioning' }
  const found = findLoadRange(velocity, angle, movement!, moving, setDegS, rate, { ...rule, ...changes }, null)
  if ('refused' in found) return found
  const samples = found.loadEnd - found.loadStart + found.startPart + found.endPart
  return { ...found, moving, spanDeg: loadRangeDeg(angle, found), ms: (1000 * samples) / rate }
}

const ANY_LENGTH = { minimumRangeDeg: 0, minimumDurationMs: 0 }

describe('load range of a trapezoid of velocity over 90 deg (closed form: ROM - f^2 w^2 / a)', () => {
  it.each([
    [2000, 60, 88.3755, 88.542],
    [2000, 180, 75.3795, 76.878],
    [2000, 240, 64.008, 66.672],
    [2000, 300, 49.3875, 53.55],
    [2000, 400, 17.8, 25.2],
    [1000, 180, 60.759, 63.756],
    [1000, 300, 8.775, 17.1],
  ])('at %i deg/s2 and %i deg/s: %f deg in the 5 %% band, %f in the 10 %% band', (acceleration, set, in5, in10) => {
    const course = trapezoids([90, 0], set, acceleration, 0.2, 5000)
    // Crossings are read between samples; what is left is the curvature of the angle inside one of them.
    const tolerance = 0.02
    const five = loadRangeOf(course, set, { ...ANY_LENGTH, bandPercent: 5 }, 5000)
    const ten = loadRangeOf(course, set, { ...ANY_LENGTH, bandPercent: 10 }, 5000)
    expect(Math.abs((five as { spanDeg: number }).spanDeg - in5)).toBeLessThan(tolerance)
    expect(Math.abs((ten as { spanDeg: number }).spanDeg - in10)).toBeLessThan(tolerance)
  })

  // A band of 0.01 % leaves the part at constant speed and 0.02 % of the rise and fall beside it.
  it.each([
    [2000, 60, 0.9, 88.2],
    [2000, 180, 8.1, 73.8],
    [2000, 240, 14.4, 61.2],
    [2000, 300, 22.5, 45.0],
    [2000, 400, 40.0, 10.0],
    [1000, 180, 16.2, 57.6],
  ])('at %i deg/s2 and %i deg/s: %f deg to reach the speed, %f deg at it', (acceleration, set, rise, constant) => {
    const course = trapezoids([90, 0], set, acceleration, 0.2, 5000)
    const found = loadRangeOf(course, set, { ...ANY_LENGTH, bandPercent: 0.01 }, 5000)
    if (!('spanDeg' in found)) throw new Error(found.refused)
    expect(Math.abs(found.spanDeg - constant)).toBeLessThan(0.05)
    expect(Math.abs(90 - course.angleDeg[found.loadStart]! - rise)).toBeLessThan(0.1)
  })

  it('has no load range of any length at 1000 deg/s2 and 400 deg/s, which is never reached, and a touch of 300', () => {
    const any = (set: number, bandPercent: number) =>
      loadRangeOf(trapezoids([90, 0], set, 1000, 0.2, 5000), set, { ...ANY_LENGTH, bandPercent }, 5000)
    for (const band of [0.01, 5, 10]) expect(any(400, band)).toEqual({ refused: 'no_load_range' })
    // 300 deg/s is reached for one instant, 45 deg on the way.
    const touch = any(300, 0.01)
    expect('spanDeg' in touch ? touch.spanDeg : 0).toBeLessThan(0.1)
  })

  it('keeps a plateau of 410 ms in a repetition of 590 ms at 2000 deg/s2 and 180 deg/s, 128.8053 J of 100 N.m', () => {
    const course = trapezoids([90, 0], 180, 2000, 0.2, 5000)
    const found = loadRangeOf(course, 180, { bandPercent: 0.01 }, 5000)
    if (!('spanDeg' in found)) throw new Error(found.refused)
    expect(found.ms).toBeCloseTo(410, 0)
    const moving = course.velocityDegS.filter((velocity) => velocity !== 0).length
    expect(moving / 5).toBeCloseTo(590, 0)
    expect((100 * found.spanDeg * Math.PI) / 180).toBeCloseTo(128.8053, 0)
  })

  it('takes 90 ms of rise, 419 ms within 5 % and 428 ms within 10 % at 2000 deg/s2 and 180 deg/s', () => {
    const course = trapezoids([90, 0], 180, 2000, 0.2, 5000)
    const five = loadRangeOf(course, 180, {}, 5000)
    const ten = loadRangeOf(course, 180, { bandPercent: 10 }, 5000)
    if ('refused' in five || 'refused' in ten) throw new Error('no load range')
    expect(five.ms).toBeCloseTo(419, 0)
    expect(ten.ms).toBeCloseTo(428, 0)
    // 95 % of 90 ms from the first to the last velocity above 5 % of the set one.
    expect((five.loadStart - five.onset) / 5).toBeCloseTo(85.5 - 4.5, 0)
  })

  it('is a reason, not a zero, where the target is never held (1000 deg/s2, 400 deg/s)', () => {
    expect(loadRangeOf(trapezoids([90, 0], 400, 1000), 400)).toEqual({ refused: 'no_load_range' })
    const { directions, findings } = analyseRecording(
      recordingOf(trapezoids([90, 0], 400, 1000), kneeTorque(100, 50)),
      protocolOf([concentric('extension', 400)]),
    )
    const [repetition] = directions[0]!.repetitions
    expect(repetition).toMatchObject({ counted: 'no', reason: 'no_load_range', loadRange: null })
    expect(directions[0]!.measures.peakTorque!.best).toEqual({ value: null, reason: 'no_load_range' })
    expect(directions[0]!.measures.totalWork!.total).toEqual({ value: null, reason: 'no_load_range' })
    expect(findings.map(({ code }) => code)).toContain('no_counted_repetition')
    // Range of motion was measured all the same.
    expect(repetition!.measures.rangeOfMotion.value).toBeCloseTo(90, 1)
  })

  it('wants the smaller of 30 deg and 30 % of the motion, and 100 ms', () => {
    // 17.8 deg of 90 in the band: short of 27.
    expect(loadRangeOf(trapezoids([90, 0], 400, 2000), 400)).toEqual({ refused: 'no_load_range' })
    // A short arc: 20 deg at 60 deg/s is 30 % of the motion and lasts long enough.
    expect(loadRangeOf(trapezoids([40, 20], 60, 2000), 60)).toHaveProperty('spanDeg')
    // 31 deg of 60 in the band, but in 80 ms.
    expect(loadRangeOf(trapezoids([60, 0], 390, 5000), 390)).toEqual({ refused: 'no_load_range' })
  })
})

describe('band, bridge and overshoot', () => {
  const steady = trapezoids([90, 0], 60, 2000)
  const dip = (at: number, samples: number, velocity: number): Course => ({
    ...steady,
    velocityDegS: steady.velocityDegS.map((v, i) => (i >= at && i < at + samples ? velocity : v)),
  })

  it('bridges a dropout of 20 ms and not one of 21', () => {
    const whole = loadRangeOf(steady, 60) as { spanDeg: number }
    expect((loadRangeOf(dip(1000, 20, 50), 60) as { spanDeg: number }).spanDeg).toBeCloseTo(whole.spanDeg, 9)
    expect((loadRangeOf(dip(1000, 21, 50), 60) as { spanDeg: number }).spanDeg).toBeLessThan(0.7 * whole.spanDeg)
  })

  it('takes the longest of several stretches', () => {
    const found = loadRangeOf(dip(800, 60, 50), 60)
    expect(found).toMatchObject({ loadStart: 860 })
  })

  it('keeps an overshoot out, even a short one that a bridge could have reached over', () => {
    // Rest ends at sample 400; 60 deg/s is reached at 430.
    const short = loadRangeOf(dip(430, 15, 68), 60)
    expect(short).toMatchObject({ loadStart: 445, overshoot: true })
    expect(loadRangeOf(dip(430, 60, 66), 60)).toMatchObject({ loadStart: 490, overshoot: true })
    expect(loadRangeOf(steady, 60)).toMatchObject({ overshoot: false })
  })

  it('looks for peaks only where the limb has settled', () => {
    const inBand = loadRangeOf(dip(430, 50, 62.5), 60)
    if ('refused' in inBand || !('settledStart' in inBand)) throw new Error('no load range')
    expect(inBand.loadStart).toBeLessThan(430)
    expect(inBand.settledStart).toBe(480 + 10)
    expect(settledPart(new Float64Array(1000).fill(60), 1, 100, 900, 1000, rule)).toEqual({
      settledStart: 110,
      settledEnd: 890,
    })
  })
})

describe('movements', () => {
  const find = (angles: readonly number[]) => findMovements(Float64Array.from(angles), movementRule)

  it('finds the movements between turning points, the first from rest included', () => {
    const course = trapezoids([90, 0, 90, 0], 60, 2000)
    expect(find(course.angleDeg).map(({ sign, rangeDeg }) => [sign, Math.round(rangeDeg)])).toEqual([
      [1, 90],
      [-1, 90],
      [1, 90],
    ])
  })

  it('takes neither a wiggle nor a pause for a repetition, and does not split one at them', () => {
    const wiggle = Array.from({ length: 400 }, (_, i) => 90 + 4 * Math.sin(i / 10))
    const down = Array.from({ length: 450 }, (_, i) => 90 - i / 10)
    const pause = Array.from({ length: 500 }, (_, i) => 45 + 3 * Math.sin(i / 30))
    const on = Array.from({ length: 450 }, (_, i) => 45 - i / 10)
    expect(find([...wiggle, ...down, ...pause, ...on])).toHaveLength(1)
  })

  it('keeps an aborted movement of a quarter of the range, which keeps its number', () => {
    const course = trapezoids([90, 0, 90, 60, 90, 0], 60, 2000)
    expect(find(course.angleDeg).map(({ rangeDeg }) => Math.round(rangeDeg))).toEqual([90, 90, 30, 30, 90])
  })

  it('finds nothing where nothing moves', () => {
    expect(find(new Array<number>(500).fill(30))).toEqual([])
    expect(find([])).toEqual([])
  })

  it('alternates and covers the whole range, whatever the angle does', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -20, max: 140, noNaN: true }), { minLength: 1, maxLength: 200 }),
        (angles) => {
          const movements = find(angles)
          movements.forEach((movement, i) => {
            expect(movement.to).toBeGreaterThan(movement.from)
            if (i === 0) return
            expect(movement.sign).toBe(-movements[i - 1]!.sign)
            expect(movement.from).toBe(movements[i - 1]!.to)
          })
          const range = Math.max(...angles) - Math.min(...angles)
          if (range >= 10) expect(Math.max(...movements.map(({ rangeDeg }) => rangeDeg))).toBeCloseTo(range, 9)
        },
      ),
      { seed: 20261125, numRuns: 200 },
    )
  })

  it('does not number a passive positioning, and says that it was there', () => {
    const slow = trapezoids([20, 90], 20, 500)
    const fast = trapezoids([90, 5, 90, 5, 90], 60, 2000)
    const joined: Course = {
      timeS: [...slow.timeS, ...fast.timeS].map((_, i) => i / 1000),
      angleDeg: [...slow.angleDeg, ...fast.angleDeg],
      velocityDegS: [...slow.velocityDegS, ...fast.velocityDegS],
    }
    const { directions, findings } = analyseRecording(
      recordingOf(joined, kneeTorque(180, 100)),
      protocolOf([concentric('extension', 60), concentric('flexion', 60)]),
    )
    expect(directions.map(({ counted, repetitions }) => [counted, repetitions.length])).toEqual([
      [2, 2],
      [2, 2],
    ])
    expect(findings).toContainEqual(expect.objectContaining({ code: 'positioning_movements', level: 'note' }))
  })
})

describe('contraction mode by the sign of muscle power', () => {
  const course = trapezoids([90, 5, 90, 5, 90], 60, 2000)

  it('names the muscle: an eccentric test of the extensors moves towards flexion with extension torque', () => {
    const { directions } = analyseRecording(
      recordingOf(course, () => 150),
      protocolOf([
        { movement: 'extension', contractionMode: 'isokinetic_concentric', velocityDegS: 60 },
        { movement: 'extension', contractionMode: 'isokinetic_eccentric', velocityDegS: 60 },
      ]),
    )
    for (const [i, contraction] of ['concentric', 'eccentric'].entries()) {
      const { counted, repetitions } = directions[i]!
      expect(counted).toBe(2)
      expect(repetitions.map((r) => r.contraction)).toEqual([contraction, contraction])
      expect(repetitions[0]!.measures.peakTorque.value).toBeCloseTo(150, 6)
      expect(repetitions[0]!.measures.workPerRepetition.value).toBeGreaterThan(200)
    }
    const angles = directions.map(({ repetitions }) => repetitions[0]!.loadRange!.startAngleDeg)
    expect(angles[0]).toBeGreaterThan(80)
    expect(angles[1]).toBeLessThan(15)
  })

  it('does not count a repetition in which the muscle worked the other way', () => {
    const { directions, findings } = analyseRecording(
      recordingOf(course, (angle) => (angle > 60 ? 40 : -80)),
      protocolOf([concentric('extension', 60)]),
    )
    expect(directions[0]!.notCounted).toEqual([
      { repetition: 1, reason: 'muscle_power_has_other_sign' },
      { repetition: 2, reason: 'muscle_power_has_other_sign' },
    ])
    expect(directions[0]!.repetitions[0]!.contraction).toBe('eccentric')
    expect(findings.map(({ code }) => code)).toContain('contraction_mode_differs')
  })

  it('counts a weak flexion whose torque after correction is small', () => {
    const gravity = {
      kind: 'cosine',
      momentNm: 12,
      orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 },
    } as const
    const flexion = (angle: number) => -6 * Math.exp(-(((angle - 40) / 40) ** 2))
    const measured = (angle: number, v: number) => (v < 0 ? flexion(angle) : 0) - 12 * Math.cos((angle * Math.PI) / 180)
    const { directions } = analyseRecording(
      recordingOf(course, measured, { torqueState: 'measured' }),
      protocolOf([concentric('flexion', 60)], { gravity }),
    )
    expect(directions[0]!.counted).toBe(2)
    expect(directions[0]!.measures.peakTorque!.best!.value).toBeCloseTo(6, 1)
  })

  it('measures one direction and leaves the passive way back alone', () => {
    const { directions } = analyseRecording(
      recordingOf(course, kneeTorque(180, 0)),
      protocolOf([concentric('extension', 60)]),
    )
    expect(directions).toHaveLength(1)
    expect(directions[0]!.counted).toBe(2)
  })
})

describe('isometric contractions', () => {
  it('are not cut in two by a tremor at the threshold, and too short ones are left out', () => {
    const torque = Float64Array.from({ length: 6000 }, (_, i) => {
      if (i > 500 && i < 2500) return 100 * Math.min(1, (i - 500) / 400) + 4 * Math.sin(i / 3)
      if (i > 3000 && i < 3100) return 100
      return i > 4000 && i < 5500 ? 95 : 0
    })
    const found = findContractions(torque, 1, 1000, DEFAULT_PARAMETERS.isometric)
    expect(found).toHaveLength(2)
    expect(found[1]).toEqual({ from: 4001, to: 5499 })
    expect(findContractions(torque, -1, 1000, DEFAULT_PARAMETERS.isometric)).toEqual([])
  })
})

describe('analysis of a trapezoid without filter, in closed form', () => {
  it('gives 131.562 J for a constant 100 N.m within 5 % of 180 deg/s, and 157.0796 J over the full range', () => {
    const recording = recordingOf(trapezoids([90, 0], 180, 2000, 0.2, 5000), (_angle, v) => (v > 0 ? 100 : 0))
    const directions = [concentric('extension', 180)]
    const load = analyseRecording(recording, protocolOf(directions, { parameters: UNFILTERED }))
    expect(load.directions[0]!.measures.workPerRepetition!.best!.value).toBeCloseTo(131.562, 1)
    const full = analyseRecording(
      recording,
      protocolOf(directions, { parameters: { ...UNFILTERED, workWindow: 'full_range' } }),
    )
    // From 5 % of the set velocity at either end: 0.04 deg of 90 are missing.
    expect(full.directions[0]!.measures.workPerRepetition!.best!.value).toBeCloseTo(157.0796, 0)
    const [repetition] = load.directions[0]!.repetitions
    expect(repetition!.measures.loadRangeDuration.value).toBeCloseTo(419, 0)
    expect(repetition!.riseMs.value).toBeCloseTo(81, 0)
    expect(repetition!.decelerationMs.value).toBeCloseTo(81, 0)
  })
})
