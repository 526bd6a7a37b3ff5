import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { decideChange, type ChangeInput, type Measured } from '../../../src/compute/index.ts'
import { estimatedError, knownError } from '../error-models.ts'

const change = (earlier: number, later: number, more: Partial<ChangeInput> = {}): ChangeInput => ({
  earlier: { value: earlier },
  later: { value: later },
  errorModel: knownError(9.5),
  confidence: 0.95,
  comparability: 'comparable',
  betterWhen: 'higher',
  ...more,
})

describe('change decision', () => {
  it('195 to 220 N.m with SEM 9.5 is within error at 95 % (z 1.8608, p .0628) and increased at 90 %', () => {
    const decision = decideChange(change(195, 220))
    expect(decision.verdict).toBe('within_measurement_error')
    expect(decision.meaning).toBeNull()
    expect(decision.standardised).toBeCloseTo(1.8608, 4)
    expect(decision.pValue).toBeCloseTo(0.0628, 4)
    expect(decision.differencePct).toBeCloseTo(12.8205, 4)
    expect(decideChange(change(195, 220, { confidence: 0.9 })).verdict).toBe('increased')
  })

  it('195 to 223 N.m is increased (z 2.0841) and better where higher is better', () => {
    const decision = decideChange(change(195, 223))
    expect(decision).toMatchObject({ verdict: 'increased', meaning: 'better', difference: 28, reason: null })
    expect(decision.standardised).toBeCloseTo(2.0841, 4)
  })

  it('says better or worse only where the measure declares a direction', () => {
    expect(decideChange(change(195, 223, { betterWhen: null })).meaning).toBeNull()
    expect(decideChange(change(195, 223, { betterWhen: 'lower' })).meaning).toBe('worse')
    expect(decideChange(change(223, 195)).meaning).toBe('worse')
    expect(decideChange(change(223, 195, { betterWhen: 'lower' })).meaning).toBe('better')
  })

  it('exactly the limit is within error, the next number above is not', () => {
    const half = decideChange(change(0, 1)).limits?.high as number
    expect(decideChange(change(0, half)).verdict).toBe('within_measurement_error')
    expect(decideChange(change(0, half * (1 + 1e-12))).verdict).toBe('increased')
    expect(decideChange(change(0, -half)).verdict).toBe('within_measurement_error')
    expect(decideChange(change(0, -half * (1 + 1e-12))).verdict).toBe('decreased')
  })

  it("with a clinic's own SEM decides by t with its degrees of freedom", () => {
    const few = decideChange(change(195, 223, { errorModel: estimatedError(9.5, 10) }))
    expect(few.verdict).toBe('within_measurement_error')
    expect(few.critical).toMatchObject({ distribution: 't', degreesOfFreedom: 10 })
    expect(few.critical?.value).toBeCloseTo(2.228139, 6)
    expect(few.pValue).toBeCloseTo(0.063757, 6)
    expect(decideChange(change(195, 223)).critical).toMatchObject({ distribution: 'normal', degreesOfFreedom: null })
  })

  it('with a percentage error has asymmetric limits: CV 5 % from 200 N.m allows 174.7 to 229.0', () => {
    const model = knownError(5, 'percent')
    const { limits } = decideChange(change(200, 210, { errorModel: model }))
    expect(limits?.high).toBeCloseTo(28.96, 2)
    expect(limits?.low).toBeCloseTo(-25.3, 2)
    expect(decideChange(change(200, 229.1, { errorModel: model })).verdict).toBe('increased')
    expect(decideChange(change(200, 228.9, { errorModel: model })).verdict).toBe('within_measurement_error')
    expect(decideChange(change(200, 174.8, { errorModel: model })).verdict).toBe('within_measurement_error')
    expect(decideChange(change(200, 174.6, { errorModel: model })).verdict).toBe('decreased')
  })

  it.each<[string, Partial<ChangeInput>, string]>([
    ['no error is known', { errorModel: { kind: 'none', reason: 'population_mismatch' } }, 'population_mismatch'],
    ['the tests may not be compared', { comparability: 'not_comparable' }, 'not_comparable'],
    ['it is not known whether they may', { comparability: 'not_assessable' }, 'not_assessable'],
    ['the earlier value is missing', { earlier: { value: null, reason: 'held' } }, 'held'],
    ['the later value is missing', { later: { value: null, reason: 'no_load_range' } }, 'no_load_range'],
    [
      'a percentage meets a value of 0',
      { earlier: { value: 0 }, errorModel: knownError(5, 'percent') },
      'not_positive',
    ],
    [
      'a percentage meets a negative value',
      { later: { value: -1 }, errorModel: knownError(5, 'percent') },
      'not_positive',
    ],
  ])('is undetermined where %s', (_name, more, reason) => {
    expect(decideChange(change(195, 300, more))).toMatchObject({
      verdict: 'undetermined',
      reason,
      meaning: null,
      limits: null,
      pValue: null,
    })
  })

  it('still states the difference in per cent where only the error is missing, and none where a value is', () => {
    const withoutError = { errorModel: { kind: 'none', reason: 'x' } } as const
    expect(decideChange(change(200, 210, withoutError)).differencePct).toBeCloseTo(5, 12)
    expect(decideChange(change(0, 210, withoutError))).toMatchObject({ difference: 210, differencePct: null })
    expect(decideChange(change(200, 0, withoutError))).toMatchObject({ difference: -200, differencePct: null })
    const missing = { value: null, reason: 'held' } as const
    for (const more of [{ earlier: missing }, { later: missing }]) {
      expect(decideChange(change(200, 210, more))).toMatchObject({
        difference: null,
        differencePct: null,
        cautions: [],
      })
    }
    // A change from nothing has a size in the unit and none in per cent.
    expect(decideChange(change(0, 40))).toMatchObject({ verdict: 'increased', difference: 40, differencePct: null })
  })

  it('gives limits on both sides of no change, as large as the detectable change', () => {
    const { limits, cautions } = decideChange(change(195, 220))
    expect(limits?.high).toBeCloseTo(26.332, 3)
    expect(limits?.low).toBeCloseTo(-26.332, 3)
    expect(cautions).toEqual([])
  })

  it('does not even state a difference across tests that may not be compared', () => {
    expect(decideChange(change(195, 300, { comparability: 'not_comparable' }))).toMatchObject({
      difference: null,
      differencePct: null,
    })
    expect(decideChange(change(195, 300, { errorModel: { kind: 'none', reason: 'x' } }))).toMatchObject({
      difference: 105,
    })
  })

  it('carries the cautions of the error and of the comparison', () => {
    const errorModel = { ...knownError(9.5), cautions: ['sample_age_not_stated'] }
    expect(decideChange(change(195, 220, { errorModel, comparability: 'comparable_with_caution' })).cautions).toEqual([
      'sample_age_not_stated',
      'comparable_with_caution',
    ])
  })

  it('calls non-finite values and impossible errors a caller mistake', () => {
    expect(() => decideChange(change(NaN, 1))).toThrow(RangeError)
    expect(() => decideChange(change(1, Infinity))).toThrow(RangeError)
    for (const confidence of [0, 1, 95]) {
      const more = { confidence, comparability: 'not_comparable' } as const
      expect(() => decideChange(change(1, 2, more))).toThrow('confidence lies between 0 and 1')
    }
    for (const sem of [0, -1, NaN, Infinity]) {
      expect(() => decideChange(change(1, 2, { errorModel: knownError(sem) }))).toThrow(RangeError)
    }
  })
})

describe('change decision: laws', () => {
  const value = fc.double({ min: 1, max: 500, noNaN: true })
  const scale = fc.constantFrom('absolute' as const, 'percent' as const)

  it('going back gives the opposite verdict, and the unit does not matter', () => {
    const opposite = { increased: 'decreased', decreased: 'increased' } as Record<string, string>
    fc.assert(
      fc.property(value, value, scale, fc.option(fc.integer({ min: 3, max: 40 })), (a, b, kind, degrees) => {
        const model = degrees === null ? knownError(6, kind) : estimatedError(6, degrees, kind)
        const there = decideChange(change(a, b, { errorModel: model }))
        const back = decideChange(change(b, a, { errorModel: model }))
        expect(back.verdict).toBe(opposite[there.verdict] ?? there.verdict)
        const unit = 1.3558179483314004
        const other = kind === 'percent' ? model : { ...model, sem: unit * model.sem }
        const scaled = decideChange(change(unit * a, unit * b, { errorModel: other }))
        expect(scaled.standardised).toBeCloseTo(there.standardised as number, 8)
      }),
      { seed: 20261125, numRuns: 400 },
    )
  })

  it('never lets NaN out', () => {
    const anything: fc.Arbitrary<Measured> = fc.oneof(
      fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e300, max: 1e300 }).map((v) => ({ value: v })),
      fc.constant({ value: null, reason: 'missing' }),
    )
    fc.assert(
      fc.property(anything, anything, scale, (earlier, later, kind) => {
        const decision = decideChange({ ...change(0, 0), earlier, later, errorModel: knownError(5, kind) })
        for (const entry of [decision.difference, decision.differencePct, decision.standardised, decision.pValue]) {
          expect(entry).not.toBeNaN()
        }
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })
})
