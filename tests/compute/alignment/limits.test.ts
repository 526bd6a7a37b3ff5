import { describe, expect, it } from 'vitest'
import {
  estimateAxisOffset,
  misalignmentOverRange,
  misalignmentPadOnArm,
  misalignmentPadOnShin,
} from '../../../src/compute/index.ts'

describe('a linkage that cannot be closed', () => {
  it('is one whose offset is as long as the arm, or whose pad lies on the knee axis', () => {
    expect(misalignmentPadOnArm({ forwardMm: 0, upMm: 300 }, 300, 0)).toBeNull()
    expect(misalignmentPadOnArm({ forwardMm: 0, upMm: -300 }, 300, 0)).toBeNull()
    expect(misalignmentPadOnArm({ forwardMm: 300, upMm: 0 }, 300, 0)).toBeNull()
    expect(misalignmentPadOnArm({ forwardMm: 299, upMm: 0 }, 300, 0)).toMatchObject({
      padDistanceMm: 1,
      torqueRatio: 300,
    })
    expect(misalignmentPadOnShin({ forwardMm: -300, upMm: 0 }, 300, 0)).toBeNull()
    expect(misalignmentPadOnShin({ forwardMm: -301, upMm: 0 }, 300, 0)).toBeNull()
    expect(misalignmentPadOnShin({ forwardMm: -299, upMm: 0 }, 300, 0)).toMatchObject({ padDistanceMm: 1 })
  })

  it('gives no range, where it happens at one end only', () => {
    expect(misalignmentOverRange({ forwardMm: 300, upMm: 0 }, 'arm', 300, 90, 0)).toBeNull()
    expect(misalignmentOverRange({ forwardMm: 300, upMm: 0 }, 'arm', 300, 0, 80)).toBeNull()
  })

  it('is not the same as a mistake of the caller', () => {
    const offset = { forwardMm: 20, upMm: 0 }
    for (const [from, to] of [
      [NaN, 90],
      [0, NaN],
      [0, Infinity],
    ] as const) {
      expect(() => misalignmentOverRange(offset, 'arm', 300, from, to)).toThrow(RangeError)
    }
    expect(() => misalignmentOverRange(offset, 'foot' as 'arm', 300, 0, 90)).toThrow(
      'a pad is mounted on arm or shin, not "foot"',
    )
  })

  it('leaves an axis check without a solution', () => {
    const check = (positions: readonly number[]) =>
      estimateAxisOffset({
        readings: positions.map((padPositionMm, i) => ({ kneeAngleDeg: 90 - 30 * i, padPositionMm })),
        readingErrorMm: 1,
        padMountedOn: 'arm',
        distanceMm: null,
        scaleStartMm: 0,
      })
    const none = { verdict: 'cannot_tell', reason: 'no_solution', forwardMm: null, upMm: null, move: null }
    // a pad on the wrong side of the knee, or on it
    expect(check([-50, -51, -50, -49])).toEqual(none)
    expect(check([0, 0, 0, 0])).toEqual(none)
    expect(check([300, 300, 300, 300])).toMatchObject({ forwardMm: expect.closeTo(0, 6) as number })
  })
})
