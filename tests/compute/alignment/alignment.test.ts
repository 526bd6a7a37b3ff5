import { readFileSync } from 'node:fs'
import { describe, it, expect } from 'vitest'
import fc from 'fast-check'
import {
  estimateAxisOffset,
  misalignmentOverRange,
  misalignmentPadOnArm,
  misalignmentPadOnShin,
  movesFor,
} from '../../../src/compute/alignment/index.ts'
import type { AxisCheckReadings, AxisOffset, PadReading } from '../../../src/compute/alignment/index.ts'

const golden = JSON.parse(readFileSync(new URL('../../golden/axis-offset-scipy.json', import.meta.url), 'utf8')) as {
  readings: PadReading[]
  readingErrorMm: number
  distanceMm: number | null
  scaleStartMm: number | null
  forwardMm: number
  upMm: number
  forwardSdMm: number
  upSdMm: number
}[]

const arm = (forwardMm: number, upMm: number, angle: number, R = 300) => {
  const point = misalignmentPadOnArm({ forwardMm, upMm }, R, angle)
  if (point === null) throw new Error('no linkage')
  return point
}
const readingsOf = (offset: AxisOffset, angles: readonly number[], start = 0, R = 300): PadReading[] =>
  angles.map((kneeAngleDeg) => ({
    kneeAngleDeg,
    padPositionMm: arm(offset.forwardMm, offset.upMm, kneeAngleDeg, R).padDistanceMm - start,
  }))
const check = (readings: PadReading[], more: Partial<AxisCheckReadings> = {}): AxisCheckReadings => ({
  readings,
  readingErrorMm: 1,
  padMountedOn: 'arm',
  distanceMm: 300,
  scaleStartMm: null,
  ...more,
})

describe('misalignment of a pad on the arm', () => {
  // Printed to 2 (mm), 3 (deg) and 5 (ratio) places
  it.each([
    [20, 0, 90, 299.33, 3.823, 1.0],
    [20, 0, 60, 289.5, 3.31, 1.03454],
    [20, 0, 30, 282.51, 1.91, 1.06131],
    [20, 0, 0, 280.0, 0, 1.07143],
    [0, -20, 90, 280.0, 0, 1.07143],
    [0, -20, 0, 299.33, -3.823, 1.0],
    [20, -20, 45, 271.72, 0, 1.1041],
    [-20, 0, 0, 320.0, 0, 0.9375],
    [10, 0, 0, 290.0, 0, 1.03448],
  ])('(%d, %d) mm at %d deg', (dx, dy, angle, s, e, ratio) => {
    const point = arm(dx, dy, angle)
    expect(point.padDistanceMm).toBeCloseTo(s, 2)
    expect(point.angleErrorDeg).toBeCloseTo(e, 3)
    expect(point.torqueRatio).toBeCloseTo(ratio, 5)
  })

  it('makes 4 cm on 40 cm 11.1 % of torque and 5.739 deg of angle, as published to first order (10 %)', () => {
    expect(arm(40, 0, 0, 400).torqueRatio).toBeCloseTo(1.1111, 4)
    expect(arm(40, 0, 90, 400).angleErrorDeg).toBeCloseTo(5.739, 3)
    expect(arm(40, 0, 90, 400).padDistanceMm - arm(40, 0, 0, 400).padDistanceMm).toBeCloseTo(37.99, 2)
  })

  it.each([
    [20, 0, 19.33],
    [10, 0, 9.83],
    [-20, 0, -20.67],
    [20, -20, 0],
  ])('lets the pad slip from 90 to 0 deg by the right amount for (%d, %d)', (dx, dy, slip) => {
    expect(arm(dx, dy, 90).padDistanceMm - arm(dx, dy, 0).padDistanceMm).toBeCloseTo(slip, 2)
  })

  it.each([
    [20, -20, -7.62, 0],
    [12, 5, -9.95, -16.8],
    [0, 0, 0, 0],
  ])('moves the pad against 90 deg at 45 and 0 deg for (%d, %d) by %f and %f mm', (dx, dy, at45, at0) => {
    expect(arm(dx, dy, 45).padDistanceMm - arm(dx, dy, 90).padDistanceMm).toBeCloseTo(at45, 2)
    expect(arm(dx, dy, 0).padDistanceMm - arm(dx, dy, 90).padDistanceMm).toBeCloseTo(at0, 2)
  })

  it('shows the torque ratio that virtual work asks for', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -40, max: 40, noNaN: true }),
        fc.double({ min: -40, max: 40, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        (dx, dy, angle) => {
          const h = 1e-3
          const machine = (a: number): number => a - arm(dx, dy, a).angleErrorDeg
          const ratio = (2 * h) / (machine(angle + h) - machine(angle - h))
          // central difference: error of order h^2, far below 1e-6
          expect(Math.abs(arm(dx, dy, angle).torqueRatio - ratio)).toBeLessThan(1e-6)
        },
      ),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('answers null where the linkage cannot be closed and refuses a caller’s mistake', () => {
    expect(misalignmentPadOnArm({ forwardMm: 300, upMm: 0 }, 300, 90)).toBeNull()
    expect(misalignmentPadOnArm({ forwardMm: 310, upMm: 0 }, 300, 0)).toBeNull()
    expect(() => misalignmentPadOnArm({ forwardMm: 0, upMm: 0 }, 0, 0)).toThrow(RangeError)
    expect(() => misalignmentPadOnArm({ forwardMm: Number.NaN, upMm: 0 }, 300, 0)).toThrow(RangeError)
  })
})

describe('misalignment of a pad on the shin', () => {
  it.each([
    [90, 300.67, 1.00444],
    [60, 310.48, 1.03656],
    [30, 317.48, 1.05879],
    [0, 320.0, 1.06667],
  ])('(20, 0) mm at %d deg', (angle, r, ratio) => {
    const point = misalignmentPadOnShin({ forwardMm: 20, upMm: 0 }, 300, angle)
    expect(point?.padDistanceMm).toBeCloseTo(r, 2)
    expect(point?.torqueRatio).toBeCloseTo(ratio, 5)
  })

  it('has the angle error that the two axes see', () => {
    const at = (angle: number) => misalignmentPadOnShin({ forwardMm: 20, upMm: 0 }, 300, angle)?.angleErrorDeg
    expect(at(90)).toBeCloseTo((Math.atan(20 / 300) * 180) / Math.PI, 10)
    expect(at(0)).toBeCloseTo(0, 12)
  })

  it('refuses a caller’s mistake', () => {
    expect(() => misalignmentPadOnShin({ forwardMm: 0, upMm: 0 }, 0, 0)).toThrow(
      'a distance must be positive, got 0 mm',
    )
    expect(() => misalignmentPadOnShin({ forwardMm: 0, upMm: Infinity }, 300, 0)).toThrow('must be finite numbers')
  })

  it('answers null where knee and machine point apart', () => {
    expect(misalignmentPadOnShin({ forwardMm: -400, upMm: 0 }, 300, 0)).toBeNull()
  })
})

describe('misalignment over the range', () => {
  it('finds the largest torque and angle errors with their signs', () => {
    const range = misalignmentOverRange({ forwardMm: 20, upMm: 0 }, 'arm', 300, 0, 90)
    expect(range?.points.map((point) => point.kneeAngleDeg)).toEqual(Array.from({ length: 19 }, (_, i) => 5 * i))
    expect(range?.largestTorqueErrorPct).toBeCloseTo(7.143, 3)
    expect(range?.largestAngleErrorDeg).toBeCloseTo(3.823, 3)
    expect(misalignmentOverRange({ forwardMm: -20, upMm: 0 }, 'arm', 300, 90, 0)?.largestTorqueErrorPct).toBeCloseTo(
      -6.25,
      6,
    )
    expect(misalignmentOverRange({ forwardMm: 20, upMm: 0 }, 'shin', 300, 0, 90)?.largestTorqueErrorPct).toBeCloseTo(
      6.667,
      3,
    )
  })

  it('goes in steps of at most 5 deg from one stop to the other, either way', () => {
    const angles = (from: number, to: number) =>
      misalignmentOverRange({ forwardMm: 1, upMm: 1 }, 'arm', 300, from, to)?.points.map(
        ({ kneeAngleDeg }) => kneeAngleDeg,
      )
    expect(angles(10, 90)).toEqual(Array.from({ length: 17 }, (_, i) => 10 + 5 * i))
    expect(angles(90, 10)).toEqual(Array.from({ length: 17 }, (_, i) => 90 - 5 * i))
    expect(angles(10, 21)).toHaveLength(4)
    expect(angles(40, 40)).toEqual([40, 40])
  })

  it('is null where the linkage opens, and refuses another mounting', () => {
    expect(() => misalignmentOverRange({ forwardMm: 0, upMm: 0 }, 'arm', -300, 0, 90)).toThrow(
      'a distance must be positive',
    )
    expect(() => misalignmentOverRange({ forwardMm: 0, upMm: 0 }, 'shin', 300, Number.NaN, 90)).toThrow(
      'finite numbers',
    )
    expect(misalignmentOverRange({ forwardMm: 300, upMm: 0 }, 'arm', 300, 0, 90)).toBeNull()
    expect(() => misalignmentOverRange({ forwardMm: 0, upMm: 0 }, 'thigh' as 'arm', 300, 0, 90)).toThrow(RangeError)
    expect(() => misalignmentOverRange({ forwardMm: 0, upMm: 0 }, 'arm', 300, 0, Infinity)).toThrow(RangeError)
  })
})

describe('axis offset from pad positions', () => {
  const threeAngles = [90, 45, 0]

  it('gives 4.2 mm forward and 3.2 mm down, to within 6 mm, for 212, 210 and 211 mm, and cannot tell', () => {
    const readings = [212, 210, 211].map((padPositionMm, i) => ({ kneeAngleDeg: threeAngles[i]!, padPositionMm }))
    const estimate = estimateAxisOffset(check(readings))
    expect(estimate).toMatchObject({
      verdict: 'cannot_tell',
      reason: 'interval_reaches_tolerance',
      confidence: 0.95,
      move: null,
    })
    expect(estimate.forwardMm?.toFixed(1)).toBe('4.2')
    expect(estimate.upMm?.toFixed(1)).toBe('-3.2')
    expect('halfWidthMm' in estimate && estimate.halfWidthMm.toFixed(0)).toBe('6')
  })

  it.each([
    [20, -20],
    [12, 5],
    [0, 0],
  ])('recovers (%d, %d) from three noise-free angles with the distance unknown', (forwardMm, upMm) => {
    const readings = readingsOf({ forwardMm, upMm }, threeAngles)
    const estimate = estimateAxisOffset(check(readings, { distanceMm: null, scaleStartMm: 0 }))
    expect(estimate.forwardMm).toBeCloseTo(forwardMm, 6)
    expect(estimate.upMm).toBeCloseTo(upMm, 6)
  })

  // Standard deviations printed to one decimal: half width / 1.96
  it.each([
    ['reading error 3 mm, distance unknown', { readingErrorMm: 3, distanceMm: null, scaleStartMm: 0 }, 9.1],
    ['reading error 3 mm, distance and start known', { readingErrorMm: 3, scaleStartMm: 0 }, 2.6],
    ['reading error 1 mm, start of the scale unknown', { readingErrorMm: 1 }, 3.0],
  ])('is as uncertain as computed: %s', (_what, more, sd) => {
    const estimate = estimateAxisOffset(check(readingsOf({ forwardMm: 0, upMm: 0 }, threeAngles), more))
    if (!('halfWidthMm' in estimate)) throw new Error('no estimate')
    expect((estimate.forwardHalfWidthMm / 1.959964).toFixed(1)).toBe(sd.toFixed(1))
    expect((estimate.upHalfWidthMm / 1.959964).toFixed(1)).toBe(sd.toFixed(1))
  })

  it('is known to 17.9 mm from three angles read to 3 mm, and its change between two sessions to a SD of 12.9', () => {
    const more = { readingErrorMm: 3, distanceMm: null, scaleStartMm: 0 }
    const estimate = estimateAxisOffset(check(readingsOf({ forwardMm: 0, upMm: 0 }, threeAngles), more))
    if (!('halfWidthMm' in estimate)) throw new Error('no estimate')
    expect(estimate.halfWidthMm).toBeCloseTo(17.9, 1)
    expect((Math.SQRT2 * estimate.halfWidthMm) / 1.959964).toBeCloseTo(12.9, 1)
  })

  it.each(golden.map((row, i) => [i, row] as const))('agrees with scipy’s least squares, case %i', (_i, row) => {
    const estimate = estimateAxisOffset(check(row.readings, row), 10, 0.95)
    if (!('halfWidthMm' in estimate)) throw new Error(estimate.reason)
    // scipy stops at its own tolerance and differentiates numerically: 1e-5 mm is far below any reading
    expect(estimate.forwardMm).toBeCloseTo(row.forwardMm, 5)
    expect(estimate.upMm).toBeCloseTo(row.upMm, 5)
    expect(estimate.forwardHalfWidthMm / 1.959963984540054).toBeCloseTo(row.forwardSdMm, 4)
    expect(estimate.upHalfWidthMm / 1.959963984540054).toBeCloseTo(row.upSdMm, 4)
  })

  it('gives a verdict only where the whole interval lies on one side of the tolerance', () => {
    const known = { readingErrorMm: 1, scaleStartMm: 0 }
    const five = [90, 67.5, 45, 22.5, 0]
    const verdictOf = (forwardMm: number): string =>
      estimateAxisOffset(check(readingsOf({ forwardMm, upMm: 0 }, five), known)).verdict
    expect(verdictOf(5)).toBe('within_tolerance')
    expect(verdictOf(10)).toBe('cannot_tell')
    expect(verdictOf(14)).toBe('beyond_tolerance')
  })

  it('says what moves which way, the machine opposite to the seat', () => {
    const estimate = estimateAxisOffset(
      check(readingsOf({ forwardMm: 20, upMm: -18 }, threeAngles), { scaleStartMm: 0 }),
    )
    expect(estimate.move).toMatchObject([
      { seat: 'back', machine: 'forward', byMm: expect.closeTo(20, 5) as number },
      { seat: 'up', machine: 'down', byMm: expect.closeTo(18, 5) as number },
    ])
    expect(movesFor({ forwardMm: -20, upMm: 3 }, 6)).toEqual([{ seat: 'forward', machine: 'back', byMm: 20 }])
    expect(movesFor({ forwardMm: 1, upMm: 12 }, 6)).toEqual([{ seat: 'down', machine: 'up', byMm: 12 }])
    const named = (forwardMm: number, upMm: number) => movesFor({ forwardMm, upMm }, 6).map(({ seat }) => seat)
    // Above what is ignored both are named; else the larger, and forward of two equal ones.
    expect(named(7, 10)).toEqual(['back', 'down'])
    expect(named(10, 7)).toEqual(['back', 'down'])
    expect(named(6, 10)).toEqual(['down'])
    expect(named(10, 6)).toEqual(['back'])
    expect(named(-2, -3)).toEqual(['up'])
    expect(named(-3, 2)).toEqual(['forward'])
    expect(named(4, 4)).toEqual(['back'])
    expect(movesFor({ forwardMm: 0, upMm: 0 }, 6)).toEqual([{ seat: 'forward', machine: 'back', byMm: 0 }])
  })

  it('cannot tell where readings scatter more than their stated error', () => {
    const readings = readingsOf({ forwardMm: 2, upMm: 1 }, [90, 67.5, 45, 22.5, 0])
    readings[2] = { ...readings[2]!, padPositionMm: readings[2]!.padPositionMm + 12 }
    expect(estimateAxisOffset(check(readings, { scaleStartMm: 0 }))).toMatchObject({
      verdict: 'cannot_tell',
      reason: 'readings_disagree',
    })
    expect(estimateAxisOffset(check(readings, { scaleStartMm: 0, readingErrorMm: 12 })).reason).toBe(
      'interval_reaches_tolerance',
    )
  })

  it.each([
    ['reading_error_unknown', { readingErrorMm: null }],
    ['reading_error_unknown', { readingErrorMm: 0 }],
    ['reading_error_unknown', { readingErrorMm: Number.NaN }],
    ['reading_error_unknown', { readingErrorMm: -1 }],
    ['reading_error_unknown', { readingErrorMm: Infinity }],
    ['distance_unknown', { distanceMm: null }],
    ['readings_not_usable', { distanceMm: 0 }],
    ['readings_not_usable', { distanceMm: 10_000 }],
    ['readings_not_usable', { scaleStartMm: Infinity }],
    ['readings_not_usable', { readings: [{ kneeAngleDeg: 1, padPositionMm: 10_000 }] }],
    ['readings_not_usable', { readings: [{ kneeAngleDeg: -10_001, padPositionMm: 1 }] }],
    ['too_few_angles', { readings: readingsOf({ forwardMm: 0, upMm: 0 }, [90, 0]), distanceMm: null, scaleStartMm: 0 }],
    ['readings_not_usable', { distanceMm: -300 }],
    ['readings_not_usable', { readings: [{ kneeAngleDeg: Number.NaN, padPositionMm: 1 }] }],
    ['too_few_angles', { readings: readingsOf({ forwardMm: 0, upMm: 0 }, [90, 0, 0]) }],
    ['too_few_angles', { readings: [] }],
    ['angles_do_not_separate', { readings: readingsOf({ forwardMm: 0, upMm: 0 }, [0, 360, 720]) }],
    [
      'no_solution',
      { readings: [90, 45, 0].map((kneeAngleDeg, i) => ({ kneeAngleDeg, padPositionMm: 2000 * i * i })) },
    ],
  ] as [string, Partial<AxisCheckReadings>][])('says %s rather than guess', (reason, more) => {
    const estimate = estimateAxisOffset(check(readingsOf({ forwardMm: 0, upMm: 0 }, threeAngles), more))
    expect(estimate).toEqual({ verdict: 'cannot_tell', reason, forwardMm: null, upMm: null, move: null })
  })

  it('refuses a tolerance or a confidence that cannot be', () => {
    expect(() => estimateAxisOffset(check([]), 0)).toThrow(RangeError)
    for (const tolerance of [0, -1, Infinity, Number.NaN]) {
      expect(() => estimateAxisOffset(check([]), tolerance)).toThrow(`a tolerance must be positive, got ${tolerance}`)
    }
    for (const confidence of [0, 1, 95, Number.NaN]) {
      expect(() => estimateAxisOffset(check([]), 10, confidence)).toThrow('a confidence lies between 0 and 1')
    }
  })

  it('needs two angles where distance and start of the scale are known', () => {
    const estimate = estimateAxisOffset(check(readingsOf({ forwardMm: 14, upMm: -3 }, [80, 10]), { scaleStartMm: 0 }))
    expect(estimate.forwardMm).toBeCloseTo(14, 6)
    expect(estimate.upMm).toBeCloseTo(-3, 6)
  })

  it('gives the wider half width of the two components, at the confidence asked for', () => {
    // Near extension a reading says much of forward and little of up.
    const readings = readingsOf({ forwardMm: 2, upMm: 1 }, [30, 15, 0])
    const at = (confidence: number) => {
      const estimate = estimateAxisOffset(check(readings, { scaleStartMm: 0 }), 10, confidence)
      if (!('halfWidthMm' in estimate)) throw new Error(estimate.reason)
      return estimate
    }
    const { halfWidthMm, forwardHalfWidthMm, upHalfWidthMm } = at(0.95)
    expect(upHalfWidthMm).toBeGreaterThan(1.5 * forwardHalfWidthMm)
    expect(halfWidthMm).toBe(upHalfWidthMm)
    expect(at(0.9).halfWidthMm / halfWidthMm).toBeCloseTo(1.644854 / 1.959964, 6)
  })

  it('recovers any offset of both pad models from five noise-free angles', () => {
    const mm = fc.double({ min: -40, max: 40, noNaN: true })
    fc.assert(
      fc.property(
        mm,
        mm,
        fc.constantFrom('arm' as const, 'shin' as const),
        fc.constantFrom(null, 0),
        (forwardMm, upMm, padMountedOn, scaleStartMm) => {
          const at = padMountedOn === 'arm' ? misalignmentPadOnArm : misalignmentPadOnShin
          const readings = [95, 70, 45, 25, 5].map((kneeAngleDeg) => ({
            kneeAngleDeg,
            padPositionMm: at({ forwardMm, upMm }, 300, kneeAngleDeg)!.padDistanceMm - (scaleStartMm ?? 85),
          }))
          const estimate = estimateAxisOffset(check(readings, { padMountedOn, scaleStartMm }))
          expect(estimate.forwardMm).toBeCloseTo(forwardMm, 5)
          expect(estimate.upMm).toBeCloseTo(upMm, 5)
        },
      ),
      { seed: 20261125, numRuns: 200 },
    )
  })
})
