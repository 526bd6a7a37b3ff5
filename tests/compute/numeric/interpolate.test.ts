import { describe, expect, it } from 'vitest'
import { interpolateAscending } from '../../../src/compute/numeric/interpolate.ts'

describe('a value between the points of a table', () => {
  const x = [58, 59, 61, 62]
  const y = [150, 152, 156, 158.5]

  it('lies on the straight line between its neighbours', () => {
    expect(interpolateAscending(x, y, 60)).toBe(154)
    expect(interpolateAscending(x, y, 58.25)).toBe(150.5)
    expect(interpolateAscending(x, y, 61.5)).toBe(157.25)
  })

  it('is the point itself at every point, both ends included, and nothing beyond them', () => {
    x.forEach((at, i) => expect(interpolateAscending(x, y, at)).toBe(y[i]))
    expect(interpolateAscending(x, y, 57.999)).toBeNull()
    expect(interpolateAscending(x, y, 62.001)).toBeNull()
    expect(interpolateAscending(x, y, NaN)).toBeNull()
    expect(interpolateAscending([5], [7], 5)).toBe(7)
    expect(interpolateAscending([5], [7], 5.1)).toBeNull()
  })

  it('is that of the last point where points share a place', () => {
    expect(interpolateAscending([1, 2, 2, 3], [10, 20, 30, 40], 2)).toBe(30)
    expect(interpolateAscending([2, 2], [20, 30], 2)).toBe(20)
  })

  it('wants as many values as points, and one at least', () => {
    expect(() => interpolateAscending([1, 2], [1], 1)).toThrow(RangeError)
    expect(() => interpolateAscending([], [], 1)).toThrow(RangeError)
  })
})
