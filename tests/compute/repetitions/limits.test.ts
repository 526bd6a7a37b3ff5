import { describe, expect, it } from 'vitest'
import {
  DEFAULT_PARAMETERS,
  findContractions,
  findLoadRange,
  findMovements,
  loadRangeDeg,
  movingPart,
  settledPart,
} from '../../../src/compute/index.ts'
import { segmentDirection } from '../../../src/compute/repetitions/segment-direction.ts'
import { concentric } from '../hand-made-recording.ts'

/** Written sample by sample, so that the very sample at a limit can be named. */
const samples = (...values: number[]) => Float64Array.from(values)
const times = (n: number, value: number) => new Array<number>(n).fill(value)

describe('turning points at the limit', () => {
  const rule = (minimumRangeDeg: number, minimumPercentOfLargest: number) => ({
    minimumRangeDeg,
    minimumPercentOfLargest,
  })

  it('take a movement of exactly the smallest range, and none that is short of it', () => {
    expect(findMovements(samples(0, 10), rule(10, 0))).toEqual([{ sign: -1, from: 0, to: 1, rangeDeg: 10 }])
    expect(findMovements(samples(10, 0), rule(10, 0))).toEqual([{ sign: 1, from: 0, to: 1, rangeDeg: 10 }])
    expect(findMovements(samples(0, 9.99), rule(10, 0))).toEqual([])
    expect(findMovements(samples(9.99, 0), rule(10, 0))).toEqual([])
  })

  it('measure the percentage against the whole range, wherever the angle is zero', () => {
    const angles = samples(50, 150, 120, 150, 50)
    expect(findMovements(angles, rule(10, 30))).toHaveLength(4)
    expect(findMovements(angles, rule(10, 31))).toHaveLength(2)
  })

  it('lie where an extreme is first reached', () => {
    expect(findMovements(samples(0, 0, 50, 50, 50, 0, 0), rule(10, 25))).toEqual([
      { sign: -1, from: 0, to: 2, rangeDeg: 50 },
      { sign: 1, from: 2, to: 5, rangeDeg: 50 },
    ])
  })
})

describe('the moving part at the limit', () => {
  const movement = (from: number, to: number, sign: 1 | -1 = 1) => ({ sign, from, to, rangeDeg: 90 })

  it('begins after the last sample at 5 % of the set velocity and ends before the next one', () => {
    const velocity = samples(0, 3, 3.1, 29, 30, 60, 30, 29, 3.1, 3, 0)
    expect(movingPart(velocity, movement(0, 10), 60, 50)).toEqual({ onset: 2, end: 8 })
    const back = velocity.map((v) => -v)
    expect(movingPart(back, movement(0, 10, -1), 60, 50)).toEqual({ onset: 2, end: 8 })
    expect(movingPart(back, movement(0, 10, 1), 60, 50)).toBeNull()
  })

  it('needs half the set velocity once, be it in its last sample', () => {
    expect(movingPart(samples(0, 30), movement(0, 1), 60, 50)).toEqual({ onset: 1, end: 1 })
    expect(movingPart(samples(0, 29.9), movement(0, 1), 60, 50)).toBeNull()
  })

  it('stays inside its movement', () => {
    expect(movingPart(samples(10, 10, 40, 10, 10), movement(1, 3), 60, 50)).toEqual({ onset: 1, end: 3 })
  })
})

describe('the load range at the limit', () => {
  // 100 samples per second and a set velocity of 100 deg/s: one sample is 1 deg and 10 ms; the band is 95 to 105 deg/s.
  const rule = { ...DEFAULT_PARAMETERS.loadRange, minimumRangeDeg: 0, minimumDurationMs: 0 }
  type Changes = Partial<typeof rule>
  interface Course {
    readonly angleDeg?: Float64Array
    readonly moving?: { onset: number; end: number }
    readonly allowed?: readonly [number, number]
    readonly rangeDeg?: number
  }

  function find(velocities: readonly number[], changes: Changes = {}, course: Course = {}) {
    const velocity = Float64Array.from(velocities)
    const last = velocity.length - 1
    const angle = course.angleDeg ?? velocity.map((_, i) => 100 - i)
    const movement = { sign: 1, from: 0, to: last, rangeDeg: course.rangeDeg ?? last } as const
    const moving = course.moving ?? { onset: 0, end: last }
    return findLoadRange(velocity, angle, movement, moving, 100, 100, { ...rule, ...changes }, course.allowed ?? null)
  }
  const REFUSED = { refused: 'no_load_range' }

  it('takes both edges of the band in', () => {
    expect(find([0, 105, 100, 95, 0])).toMatchObject({ loadStart: 1, loadEnd: 3 })
    expect(find([0, 105.1, 100, 94.9, 0])).toMatchObject({ loadStart: 2, loadEnd: 2 })
  })

  it('may begin with the first sample of the recording and end with the last', () => {
    expect(find(times(6, 100))).toMatchObject({ loadStart: 0, loadEnd: 5, startPart: 0, endPart: 0 })
  })

  it('is the first of two stretches of one length, and the longer of two whatever their order', () => {
    const gap = times(5, 50)
    expect(find([...times(6, 100), ...gap, ...times(6, 100)])).toMatchObject({ loadStart: 0, loadEnd: 5 })
    expect(find([...times(7, 100), ...gap, ...times(6, 100)])).toMatchObject({ loadStart: 0, loadEnd: 6 })
    expect(find([...times(6, 100), ...gap, ...times(7, 100)])).toMatchObject({ loadStart: 11, loadEnd: 17 })
  })

  it('reaches over 20 ms below the band after a stretch that is longer, not over 30 ms, nor after a shorter one', () => {
    const after = (before: number, gap: number) => find([...times(before, 100), ...times(gap, 50), ...times(9, 100)])
    expect(after(3, 2)).toMatchObject({ loadStart: 0, loadEnd: 13 })
    expect(after(3, 3)).toMatchObject({ loadStart: 6, loadEnd: 14 })
    expect(after(1, 2)).toMatchObject({ loadStart: 3, loadEnd: 11 })
    // each dropout by itself: one above the band does not make the next one below it an overshoot
    expect(find([...times(12, 100), 110, ...times(3, 100), 50, ...times(9, 100)], { minimumDurationMs: 100 })).toEqual(
      expect.objectContaining({ loadStart: 0, loadEnd: 25 }),
    )
  })

  it('reaches over 20 ms above the band only after the smallest duration', () => {
    const after = (before: number) =>
      find([...times(before, 100), 110, 110, ...times(20, 100)], { minimumDurationMs: 100 })
    expect(after(10)).toMatchObject({ loadStart: 0, loadEnd: 31 })
    expect(after(9)).toMatchObject({ loadStart: 11, loadEnd: 30, overshoot: true })
  })

  it('never reaches over an angle at which nothing is known, and takes both ends of what is known in', () => {
    const angleDeg = samples(...times(5, 60), 61, ...times(4, 60), ...times(4, 40), 39)
    expect(find(times(15, 100), {}, { angleDeg, allowed: [40, 60] })).toMatchObject({
      loadStart: 6,
      loadEnd: 13,
      startPart: 0,
      endPart: 0,
    })
  })

  it('reads between two samples where the band was entered and left, by either edge', () => {
    expect(find([90, 100, 100, 110])).toMatchObject({ loadStart: 1, loadEnd: 2, startPart: 0.5, endPart: 0.5 })
    expect(find([120, 100, 100, 80])).toMatchObject({ loadStart: 1, loadEnd: 2, startPart: 0.25, endPart: 0.25 })
  })

  it('reads nothing outside the moving part', () => {
    const moving = { onset: 1, end: 3 }
    expect(find([90, 100, 100, 100, 90], {}, { moving })).toMatchObject({ startPart: 0, endPart: 0 })
  })

  it('wants its smallest share of the motion to the very degree', () => {
    const share = { minimumRangeDeg: 30, minimumPercentOfMotion: 30 }
    const spanning = (deg: number, rangeDeg: number) => find([0, ...times(deg + 1, 100), 0], share, { rangeDeg })
    // the band is left 5 % of a sample beyond either end
    expect(spanning(15, 50)).toMatchObject({ loadStart: 1, loadEnd: 16, startPart: 0.05, endPart: 0.05 })
    expect(spanning(14, 50)).toEqual(REFUSED)
    expect(spanning(29, 200)).toEqual(REFUSED)
    expect(spanning(30, 200)).toHaveProperty('loadEnd', 31)
    const whole = (intervals: number) => find(times(intervals + 1, 100), share, { rangeDeg: 50 })
    expect(whole(15)).toHaveProperty('loadEnd', 15)
    expect(whole(14)).toEqual(REFUSED)
  })

  it('wants its smallest duration to the very sample, with the parts of samples at both ends', () => {
    const lasting = (intervals: number, before: number, after: number) =>
      find([before, ...times(intervals + 1, 100), after], { minimumDurationMs: 100 })
    expect(lasting(9, 90, 90)).toHaveProperty('loadEnd', 10)
    expect(lasting(9, 90, 80)).toEqual(REFUSED)
    expect(lasting(9, 80, 90)).toEqual(REFUSED)
    expect(find(times(11, 100), { minimumDurationMs: 100 })).toHaveProperty('loadEnd', 10)
    expect(find(times(10, 100), { minimumDurationMs: 100 })).toEqual(REFUSED)
  })

  it('calls it an overshoot above the band, not at its edge', () => {
    expect(find([50, 105, ...times(20, 100)])).toHaveProperty('overshoot', false)
    expect(find([50, 105.1, ...times(20, 100)])).toHaveProperty('overshoot', true)
  })

  it('spans what the angle travelled, with the parts of the steps before and after', () => {
    const angle = samples(90, 86, 84, 81)
    expect(loadRangeDeg(angle, { loadStart: 1, loadEnd: 2, startPart: 0.5, endPart: 0.5 })).toBe(2 + 2 + 1.5)
    // nothing was recorded before the first sample, nor after the last
    expect(loadRangeDeg(angle, { loadStart: 0, loadEnd: 3, startPart: 0.5, endPart: 0.5 })).toBe(9)
  })
})

describe('the settled part at the limit', () => {
  // 10 ms per sample: five samples of settling, one of margin; the range's own speed is that of samples 20 to 40.
  const rule = { settleMs: 50, settledPercent: 2, settleMarginMs: 10 }
  const settled = (changes: Record<number, number>, sign: 1 | -1 = 1) => {
    const velocity = new Float64Array(61).fill(100 * sign)
    for (const [i, speed] of Object.entries(changes)) velocity[Number(i)] = speed * sign
    return settledPart(velocity, sign, 10, 50, 100, rule)
  }

  it('is all but the margin where the speed is held', () => {
    expect(settled({})).toEqual({ settledStart: 11, settledEnd: 49 })
    expect(settled({}, -1)).toEqual({ settledStart: 11, settledEnd: 49 })
  })

  it('begins after the last sample off its speed by more than 2 % among the first, and ends before the first such of the last', () => {
    expect(settled({ 10: 103, 13: 97 })).toEqual({ settledStart: 15, settledEnd: 49 })
    expect(settled({ 47: 103, 50: 97 })).toEqual({ settledStart: 11, settledEnd: 45 })
    expect(settled({ 13: 102, 47: 98 })).toEqual({ settledStart: 11, settledEnd: 49 })
  })

  it('looks as far as the settling time and no farther', () => {
    expect(settled({ 15: 103, 45: 103 })).toEqual({ settledStart: 17, settledEnd: 43 })
    expect(settled({ 16: 103, 44: 103 })).toEqual({ settledStart: 11, settledEnd: 49 })
  })
})

describe('attempts over missing samples', () => {
  // A movement from sample 1 to 41, moving in samples 2 to 40, at 100 samples per second.
  const velocityDegS = samples(0, 0, ...times(39, 60), 0, 0)
  const angleDeg = velocityDegS.map((_, i) => 90 - 0.6 * i)
  const attempt = (missing: readonly { startS: number; endS: number }[], setDegS = 60) =>
    segmentDirection(
      { angleDeg, velocityDegS },
      [{ sign: 1, from: 1, to: 41, rangeDeg: 24 }],
      concentric('extension', setDegS),
      100,
      missing,
      null,
      DEFAULT_PARAMETERS,
    ).attempts[0]!

  it('have the hole as their reason, whatever was found', () => {
    expect(attempt([])).toMatchObject({ onset: 2, end: 40, reason: null, phases: { loadStart: 2 } })
    const hole = [{ startS: 0.1, endS: 0.2 }]
    expect(attempt(hole)).toMatchObject({ reason: 'samples_missing', phases: null })
    expect(attempt([], 80)).toMatchObject({ reason: 'no_load_range', phases: null })
    expect(attempt(hole, 80)).toMatchObject({ reason: 'samples_missing', phases: null })
  })

  it('do not mind a hole that ends where the limb starts, or starts where it stops', () => {
    expect(attempt([{ startS: 0, endS: 0.02 }]).reason).toBeNull()
    expect(attempt([{ startS: 0, endS: 0.021 }]).reason).toBe('samples_missing')
    expect(attempt([{ startS: 0.4, endS: 0.5 }]).reason).toBeNull()
    expect(attempt([{ startS: 0.399, endS: 0.5 }]).reason).toBe('samples_missing')
  })
})

describe('isometric contractions at the limit', () => {
  // 10 samples per second: 300 ms are three of them.
  const rule = { contractionPercentOfLargest: 20, contractionFloorNm: 5, minimumDurationMs: 300 }

  it('begin at the level, end below half of it, and last their smallest duration', () => {
    const torque = samples(0, 20, 100, 10, 9.9, 0, ...times(4, 19.9), 0, 20, 50, 0, 20, 50, 60)
    const expected = [
      { from: 1, to: 3 },
      { from: 14, to: 16 },
    ]
    expect(findContractions(torque, 1, 10, rule)).toEqual(expected)
    expect(
      findContractions(
        torque.map((x) => -x),
        -1,
        10,
        rule,
      ),
    ).toEqual(expected)
  })

  it('may be under way when the recording begins', () => {
    expect(findContractions(samples(30, 30, 30, 0), 1, 10, rule)).toEqual([{ from: 0, to: 2 }])
  })

  it('need the floor, however weak the largest is', () => {
    expect(findContractions(samples(0, ...times(4, 4.9), 0), 1, 10, rule)).toEqual([])
    expect(findContractions(samples(0, ...times(4, 5), 0), 1, 10, rule)).toHaveLength(1)
  })
})
