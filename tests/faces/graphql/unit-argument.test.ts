import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { AppError } from '../../../src/domain/errors.ts'
import { inAskedUnit } from '../../../src/faces/graphql/unit-argument.ts'

const refusalOf = (work: () => unknown): AppError => {
  try {
    work()
  } catch (error) {
    if (error instanceof AppError) return error
  }
  throw new Error('was not refused')
}

describe('a quantity in the unit that is asked for', () => {
  // NIST SP 811 (2008), appendix B.8: pound-force foot to newton metre 1.355 817 948 331 4 (exact as 0.3048 × 4.4482216152605).
  it('is converted by the exact factor', () => {
    expect(inAskedUnit({ value: 100 * 1.3558179483314004, unit: 'N.m' }, { unit: '[ft_i].[lbf_av]' })).toEqual({ value: 100, unit: '[ft_i].[lbf_av]' }) // prettier-ignore
    expect(inAskedUnit({ value: 180, unit: 'deg' }, { unit: 'rad' })).toEqual({ value: Math.PI, unit: 'rad' })
  })

  it('keeps what else is known of it', () => {
    const measured = { value: 0.5, unit: 's', n: 4, repetition: 2 }
    expect(inAskedUnit(measured, { unit: 'ms' })).toEqual({ value: 500, unit: 'ms', n: 4, repetition: 2 })
  })

  it('without a value stays without, and says why', () => {
    expect(inAskedUnit({ value: null, unit: 'N.m', reason: 'no_load_range' }, { unit: '[ft_i].[lbf_av]' })).toEqual({ value: null, unit: '[ft_i].[lbf_av]', reason: 'no_load_range' }) // prettier-ignore
  })

  it.each([undefined, null])('asked for in %s is the stored object itself', (unit) => {
    const measured = { value: 182.4, unit: 'N.m' }
    expect(inAskedUnit(measured, unit === undefined ? {} : { unit })).toBe(measured)
    expect(inAskedUnit(null, { unit: 'J' })).toBeNull()
  })

  it.each([
    ['N.m', 'J', 'unit_wrong_kind'],
    ['N.m', 'Nm', 'unit_not_ucum'],
    ['N.m/kg', '%', 'unit_bare_percent_refused'],
    ['no unit', 'N.m', 'unit_wrong_kind'],
  ])('of %s in %j is refused at the argument', (unit, asked, code) => {
    const refused = refusalOf(() => inAskedUnit({ value: 1, unit }, { unit: asked }))
    expect(refused.code).toBe('unit_not_accepted')
    expect(refused.faults).toMatchObject([{ pointer: '#/unit', code }])
  })

  it('and back is what it was, to 1e-12', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-3, max: 1e6, noNaN: true }), fc.constantFrom('[ft_i].[lbf_av]', '[in_i].[lbf_av]', 'kgf.m'), (value, unit) => {
        const there = inAskedUnit({ value, unit: 'N.m' }, { unit }) as { value: number; unit: string }
        const back = inAskedUnit(there, { unit: 'N.m' }) as { value: number }
        expect(Math.abs(back.value - value)).toBeLessThanOrEqual(1e-12 * Math.abs(value))
      }), // prettier-ignore
      { seed: 20261125, numRuns: 200 },
    )
  })
})
