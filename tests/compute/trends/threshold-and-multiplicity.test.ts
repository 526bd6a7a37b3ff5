import { describe, expect, it } from 'vitest'
import {
  chanceOfFalseChangeFromBaseline,
  distanceToThreshold,
  multiplicityStatement,
  THRESHOLD_NOTE,
} from '../../../src/compute/index.ts'

describe('distance to a threshold', () => {
  it('is what is still to go, with a note and without any date', () => {
    const answer = distanceToThreshold({ latest: { value: 158.9 }, threshold: 176.3, betterWhen: 'higher' })
    expect(answer.distance).toBeCloseTo(17.4, 10)
    expect(answer).toEqual({ threshold: 176.3, distance: answer.distance, reason: null, note: THRESHOLD_NOTE })
    expect(JSON.stringify(answer)).not.toMatch(/\d{4}-\d{2}/)
  })

  it('is negative beyond the threshold, and counts downwards where lower is better', () => {
    expect(distanceToThreshold({ latest: { value: 180 }, threshold: 176, betterWhen: 'higher' }).distance).toBe(-4)
    expect(distanceToThreshold({ latest: { value: 11.5 }, threshold: 11, betterWhen: 'lower' }).distance).toBe(0.5)
    expect(distanceToThreshold({ latest: { value: 11 }, threshold: 11, betterWhen: 'lower' }).distance).toBe(0)
  })

  it('passes on why there is no latest value, and refuses nonsense', () => {
    expect(
      distanceToThreshold({ latest: { value: null, reason: 'held' }, threshold: 1, betterWhen: 'higher' }),
    ).toMatchObject({ distance: null, reason: 'held' })
    expect(() => distanceToThreshold({ latest: { value: 1 }, threshold: NaN, betterWhen: 'higher' })).toThrow(
      RangeError,
    )
    expect(() => distanceToThreshold({ latest: { value: NaN }, threshold: 1, betterWhen: 'higher' })).toThrow(
      RangeError,
    )
  })

  it('a line through months 3 to 6 of a slowing recovery promises 90 at 7.5 months, the curve gets there at 9.0: why no date', () => {
    const curve = (month: number): number => 100 - 60 * Math.exp(-month / 5)
    const [a, b, c, d] = [3, 4, 5, 6].map(curve) as [number, number, number, number]
    const slope = (-1.5 * a - 0.5 * b + 0.5 * c + 1.5 * d) / 5
    const promised = 4.5 + (90 - (a + b + c + d) / 4) / slope
    expect(promised).toBeCloseTo(7.5, 1)
    expect(5 * Math.log(6)).toBeCloseTo(9, 1)
  })
})

describe('many verdicts at once', () => {
  it('72 verdicts at 95 % hold 3.6 false changes when nothing changed', () => {
    const family = multiplicityStatement(72, 0.95)
    expect(family.expectedFalseChanges).toBeCloseTo(3.6, 10)
    expect(family.chanceOfAtLeastOne).toBeCloseTo(0.975, 3)
    expect(family.statement).toBe(
      '72 verdicts at 95 % confidence: 3.6 would say changed if nothing had. Primary measures are named in advance; the rest is exploratory.',
    )
    expect(multiplicityStatement(0, 0.95)).toMatchObject({ expectedFalseChanges: 0, chanceOfAtLeastOne: 0 })
    expect(() => multiplicityStatement(1.5, 0.95)).toThrow(RangeError)
    expect(() => multiplicityStatement(-1, 0.95)).toThrow(RangeError)
    expect(() => multiplicityStatement(5, 1)).toThrow(RangeError)
  })

  it('five visits against one baseline call at least one change in 18 %', () => {
    expect(chanceOfFalseChangeFromBaseline(5, 0.95)).toBeCloseTo(0.18, 2)
  })

  it('one visit calls it in exactly 5 %', () => {
    expect(chanceOfFalseChangeFromBaseline(1, 0.95)).toBeCloseTo(0.05, 9)
    expect(() => chanceOfFalseChangeFromBaseline(0, 0.95)).toThrow(RangeError)
    expect(() => chanceOfFalseChangeFromBaseline(1.5, 0.95)).toThrow(RangeError)
  })
})
