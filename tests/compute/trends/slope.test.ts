import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  calendarDayNumber,
  DAYS_PER_MONTH,
  trendSlope,
  type ErrorModel,
  type SlopeInput,
  type TrendPoint,
} from '../../../src/compute/index.ts'
import { estimatedError, knownError } from '../error-models.ts'

const monthly = (values: readonly number[], firstMonth = 3): TrendPoint[] =>
  values.map((value, i) => ({ timeDays: (firstMonth + i) * DAYS_PER_MONTH, value }))
const input = (points: readonly TrendPoint[], more: Partial<SlopeInput> = {}): SlopeInput => ({
  points,
  comparability: 'comparable',
  errorModel: knownError(9.5),
  confidence: 0.95,
  ...more,
})
const none: ErrorModel = { kind: 'none', reason: 'population_mismatch' }

describe('slope of a run', () => {
  it('months 3 to 6 with 110, 128, 139, 161 N.m and SEM 9.5: 16.4 N.m/mo, SE 4.2485, 8.07 to 24.73', () => {
    const slope = trendSlope(input(monthly([110, 128, 139, 161])))
    expect(slope.perMonth).toBeCloseTo(16.4, 10)
    expect(slope.standardError).toBeCloseTo(4.2485, 4)
    expect(slope.standardErrorFrom).toBe('measurement_error')
    expect((slope.perMonth as number) / (slope.standardError as number)).toBeCloseTo(3.8602, 4)
    expect(slope.interval?.low).toBeCloseTo(8.07, 2)
    expect(slope.interval?.high).toBeCloseTo(24.73, 2)
    expect(slope).toMatchObject({ verdict: 'increased', reason: null, pointCount: 4, cautions: [] })
  })

  it('the same points by their residuals: SE 1.4213, t with 2 degrees of freedom, critical 4.3027', () => {
    const slope = trendSlope(input(monthly([110, 128, 139, 161]), { errorModel: none }))
    expect(slope.standardError).toBeCloseTo(1.4213, 4)
    expect((slope.perMonth as number) / (slope.standardError as number)).toBeCloseTo(11.539, 3)
    expect(slope.critical).toMatchObject({ distribution: 't', degreesOfFreedom: 2 })
    expect(slope.critical?.value).toBeCloseTo(4.3027, 4)
    expect(slope).toMatchObject({ standardErrorFrom: 'residuals', cautions: ['no_measurement_error_known'] })
  })

  it('150, 158, 149, 160 with SEM 9.5 is a plateau: slope 2.1, z 0.494', () => {
    const slope = trendSlope(input(monthly([150, 158, 149, 160])))
    expect(slope.perMonth).toBeCloseTo(2.1, 10)
    expect((slope.perMonth as number) / (slope.standardError as number)).toBeCloseTo(0.494, 3)
    expect(slope.verdict).toBe('plateau')
  })

  it('counts local calendar days and Julian months: four tests from 12 May to 17 November give 9.52 N.m/mo, 6.80 to 12.25', () => {
    const tests: [string, number][] = [
      ['2026-05-12T14:40:00+02:00', 98.4],
      ['2026-07-14T13:50:00+02:00', 124.1],
      ['2026-10-13T11:55:00+02:00', 148.7],
      ['2026-11-17T09:05:00+01:00', 158.9],
    ]
    const points = tests.map(([at, value]) => ({ timeDays: calendarDayNumber(at), value }))
    const slope = trendSlope(
      input(points, { errorModel: estimatedError(6.8, 24), comparability: 'comparable_with_caution' }),
    )
    expect(DAYS_PER_MONTH).toBe(365.25 / 12)
    expect(slope.perMonth?.toFixed(2)).toBe('9.52')
    expect(slope.interval?.low.toFixed(2)).toBe('6.80')
    expect(slope.interval?.high.toFixed(2)).toBe('12.25')
    expect(slope).toMatchObject({
      verdict: 'increased',
      standardErrorFrom: 'measurement_error',
      cautions: ['comparable_with_caution'],
    })
  })

  it('uses the larger of the two standard errors', () => {
    const scattered = trendSlope(input(monthly([110, 180, 100, 190]), { errorModel: knownError(2) }))
    expect(scattered).toMatchObject({
      standardErrorFrom: 'residuals',
      verdict: 'undetermined',
      reason: 'too_scattered',
    })
    expect(scattered.critical).toMatchObject({ distribution: 't', degreesOfFreedom: 2 })
  })

  it('is a plateau by its residuals too, where their interval over the run is no wider than the detectable change', () => {
    // Residuals larger than the known error: interval by t, half width 4.303 x standard error per month, over 3 months.
    const wavy = (size: number) => monthly([150 + size, 150 - size, 150 - size, 150 + size])
    const answer = (size: number) => trendSlope(input(wavy(size), { errorModel: knownError(2) }))
    expect(answer(0.9).standardErrorFrom).toBe('measurement_error')
    const standardError = (size: number) => Math.sqrt((4 * size ** 2) / 2 / 5)
    const detectable = 1.959964 * Math.SQRT2 * 2
    const width = (size: number) => 3 * 4.302653 * standardError(size)
    expect(answer(1.5)).toMatchObject({ standardErrorFrom: 'residuals', verdict: 'undetermined' })
    expect(width(1.5)).toBeGreaterThan(detectable)
    // Twenty months narrow the interval: scatter somewhat above the known error is a plateau still, three times as much is not.
    const twenty = Array.from({ length: 20 }, (_, i) => 150 + (i % 2 === 0 ? 2.6 : -2.6))
    const long = trendSlope(input(monthly(twenty), { errorModel: knownError(2) }))
    expect(long).toMatchObject({ standardErrorFrom: 'residuals', verdict: 'plateau', reason: null })
    const wider = trendSlope(
      input(monthly(twenty.map((value) => 150 + 3 * (value - 150))), { errorModel: knownError(2) }),
    )
    expect(wider).toMatchObject({ standardErrorFrom: 'residuals', verdict: 'undetermined', reason: 'too_scattered' })
  })

  it('refuses an impossible confidence, however few the points, and has no cautions without a slope', () => {
    for (const confidence of [0, 1, 95]) {
      expect(() => trendSlope(input(monthly([1]), { confidence }))).toThrow('confidence lies between 0 and 1')
    }
    expect(trendSlope(input(monthly([1])))).toMatchObject({ cautions: [], standardErrorFrom: null, critical: null })
  })

  it('is not called a plateau where nothing is known of the error, nor increased on a SEM from too few pairs', () => {
    expect(trendSlope(input(monthly([150, 158, 149, 160]), { errorModel: none }))).toMatchObject({
      verdict: 'undetermined',
      reason: 'population_mismatch',
    })
    // Slope 2.1 standard errors: beyond the normal limit, not beyond t with 10 degrees of freedom.
    const rising = monthly([0, 1, 2, 3].map((month) => 100 + month * 2.1 * 4.2485))
    expect(trendSlope(input(rising)).verdict).toBe('increased')
    expect(trendSlope(input(rising, { errorModel: estimatedError(9.5, 10) }))).toMatchObject({
      verdict: 'undetermined',
      reason: 'sem_from_few_pairs',
    })
  })

  it('stays a plateau with three points, whose interval is exactly the detectable change of two tests', () => {
    expect(trendSlope(input(monthly([150, 152, 151]))).verdict).toBe('plateau')
  })

  it('gives a percentage error to each point by its value', () => {
    const level = trendSlope(input(monthly([100, 100, 100, 100]), { errorModel: knownError(5, 'percent') }))
    expect(level.standardError).toBeCloseTo((100 * Math.log(1.05)) / Math.sqrt(5), 10)
    const double = trendSlope(input(monthly([200, 200, 200, 200]), { errorModel: knownError(5, 'percent') }))
    expect(double.standardError).toBeCloseTo(2 * (level.standardError as number), 10)
    expect(double.verdict).toBe('plateau')
    expect(trendSlope(input(monthly([1, 0, 1]), { errorModel: knownError(5, 'percent') }))).toMatchObject({
      perMonth: null,
      reason: 'not_positive',
    })
  })

  it.each<[string, TrendPoint[], Partial<SlopeInput>, string]>([
    ['fewer than three points', monthly([1, 2]), {}, 'fewer_than_three_comparable_points'],
    ['one day', [1, 2, 3].map((value) => ({ timeDays: 5, value })), {}, 'all_on_one_day'],
    ['points that may not be compared', monthly([1, 2, 3]), { comparability: 'not_comparable' }, 'not_comparable'],
    ['points nobody can compare', monthly([1, 2, 3]), { comparability: 'not_assessable' }, 'not_assessable'],
  ])('is not drawn through %s', (_name, points, more, reason) => {
    expect(trendSlope(input(points, more))).toMatchObject({
      perMonth: null,
      reason,
      interval: null,
      verdict: 'undetermined',
      standardError: null,
      pointCount: points.length,
    })
  })

  it('turns with the sign of the values and does not depend on order, origin of time or unit', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 400 }), fc.double({ min: 20, max: 300, noNaN: true })), {
          minLength: 3,
          maxLength: 8,
        }),
        (pairs) => {
          const points = pairs.map(([timeDays, value]) => ({ timeDays, value }))
          const here = trendSlope(input(points))
          fc.pre(here.perMonth !== null && here.interval !== null)
          const opposite = { increased: 'decreased', decreased: 'increased' } as Record<string, string>
          const turned = trendSlope(input(points.map(({ timeDays, value }) => ({ timeDays, value: -value }))))
          expect(turned.verdict).toBe(opposite[here.verdict] ?? here.verdict)
          const moved = trendSlope(input(points.toReversed().map((p) => ({ ...p, timeDays: p.timeDays + 20000 }))))
          expect(moved.perMonth).toBeCloseTo(here.perMonth, 4)
          const scaled = trendSlope(
            input(
              points.map((p) => ({ ...p, value: 2 * p.value })),
              { errorModel: knownError(19) },
            ),
          )
          expect(scaled.interval?.low).toBeCloseTo(2 * here.interval.low, 4)
          expect(scaled.verdict).toBe(here.verdict)
        },
      ),
      { seed: 20261125, numRuns: 300 },
    )
  })
})

describe('calendar days', () => {
  it('are those of the place of the test, whatever the hour', () => {
    expect(calendarDayNumber('1970-01-02')).toBe(1)
    expect(calendarDayNumber('2026-11-17T00:05:00+14:00')).toBe(calendarDayNumber('2026-11-17T23:55:00-11:00'))
    expect(calendarDayNumber('2026-11-17T09:05:00+01:00') - calendarDayNumber('2026-05-12')).toBe(189)
    expect(calendarDayNumber('2028-03-01') - calendarDayNumber('2028-02-28')).toBe(2)
  })

  it('are refused where there is no such day', () => {
    for (const text of [
      '',
      '2026-02-29',
      '2026-04-31',
      '2026-01-00',
      '2026-13-01',
      '2026-00-10',
      '17.11.2026',
      '2026-11-171',
      'x2026-11-17',
    ]) {
      expect(() => calendarDayNumber(text), text).toThrow(RangeError)
    }
  })
})
