import { describe, it, expect } from 'vitest'
import fc from 'fast-check'
import { UcumLhcUtils } from '@lhncbc/ucum-lhc'
import {
  QUANTITY_KINDS,
  UNIT_TABLE,
  acceptedUnitsOf,
  canonicalUnitOf,
  convert,
  suggestUnit,
  toCanonical,
  unitKind,
} from '../../../src/compute/units/index.ts'

const ucum = UcumLhcUtils.getInstance()
const pairs = QUANTITY_KINDS.flatMap((kind) => {
  const units = acceptedUnitsOf(kind)
  return units.flatMap((from) => units.map((to): [string, string] => [from, to]))
})

describe('the table of units', () => {
  it.each(UNIT_TABLE.map((entry) => entry.unit))('holds %s, which an independent UCUM library calls valid', (unit) => {
    expect(ucum.validateUnitString(unit).status).toBe('valid')
  })

  // The library rounds its own constants to about 12 digits in places (lbf 4.4482216152605 is whole): 1e-12 relative
  it.each(pairs)('converts %s to %s as an independent UCUM library does', (from, to) => {
    const answer = ucum.convertUnitTo(from, 1, to)
    expect(answer.status).toBe('succeeded')
    const expected = answer.toVal as number
    expect(Math.abs(convert(1, from, to) / expected - 1)).toBeLessThanOrEqual(1e-12)
  })

  it('names each unit once', () => {
    const codes = UNIT_TABLE.map((entry) => entry.unit)
    expect(new Set(codes).size).toBe(codes.length)
  })

  it('keeps every numerator and denominator exact', () => {
    for (const entry of UNIT_TABLE) {
      if (entry.denominator === Math.PI) continue
      expect(Number.isInteger(entry.numerator)).toBe(true)
      expect(Number.isInteger(entry.denominator)).toBe(true)
    }
  })
})

describe('convert', () => {
  it('gives the published size of the foot-pound, inch-pound, pound and kilogram-force', () => {
    expect(convert(1, '[ft_i].[lbf_av]', 'N.m')).toBe(1.3558179483314004)
    expect(convert(1, '[in_i].[lbf_av]', 'N.m')).toBe(0.1129848290276167)
    expect(convert(1, '[lb_av]', 'kg')).toBe(0.45359237)
    expect(convert(1, 'kgf.m', 'N.m')).toBe(9.80665)
    expect(convert(1, '[ft_i].[lbf_av]/[lb_av]', 'N.m/kg')).toBeCloseTo(2.98907, 5)
  })

  it('prints the examples of its documentation', () => {
    expect(convert(182.4, '[ft_i].[lbf_av]', 'N.m')).toBe(247.30119377564744)
    expect(convert(42, 'cm', 'm')).toBe(0.42)
    expect(toCanonical(150, 'mm')).toEqual({ value: 0.15, unit: 'm' })
    expect(acceptedUnitsOf('angle')).toEqual(['deg', 'rad'])
    expect(canonicalUnitOf('torque')).toBe('N.m')
    expect(canonicalUnitOf('angle')).toBe('deg')
  })

  it('turns 60 deg/s into 1.0471976 rad/s', () => {
    expect(convert(60, 'deg/s', 'rad/s')).toBeCloseTo(1.0471976, 7)
  })

  it.each([
    ['N.m', 'J'],
    ['J', 'N.m'],
    ['N.m/kg', 'J/kg'],
    ['{score}', '{ratio}'],
    ['{score}', '%'],
    ['{repetition}', '1'],
    ['N.m/kg', '%'],
    ['%', 'N.m/kg'],
    ['N.m/s', 'N.m/mo'],
    ['deg', '1'],
    ['N.m/s', 'W'],
    ['N.m/{repetition}', 'N.m'],
  ])('refuses %s to %s, which share a dimension in UCUM or a custom but not a kind', (from, to) => {
    expect(() => convert(1, from, to)).toThrow(RangeError)
    expect(() => convert(1, from, to)).toThrow(
      `"${from}" is a unit of ${unitKind(from)} and "${to}" of ${unitKind(to)}`,
    )
  })

  it('refuses an unknown unit, a value that is no number and a result out of range', () => {
    expect(() => convert(1, 'Nm', 'N.m')).toThrow('"Nm" is not an accepted UCUM unit')
    expect(() => convert(1, 'N.m', 'nm')).toThrow(RangeError)
    expect(() => convert(Number.NaN, 'N.m', 'N.m')).toThrow('finite')
    expect(() => convert(Infinity, 'kg', 'g')).toThrow('finite')
    expect(() => convert(1e308, 'kg', 'g')).toThrow('exceeds the range')
    expect(() => toCanonical(1, 'toString')).toThrow(RangeError)
    expect(() => canonicalUnitOf('magic' as 'torque')).toThrow('unknown quantity kind "magic"')
  })

  it('neither overflows nor underflows on the way to a result that exists', () => {
    expect(convert(1e307, '[ft_i].[lbf_av]', 'N.m') / 1.3558179483314004e307).toBeCloseTo(1, 14)
    expect(convert(1e-300, '[in_i].[lbf_av]', '[ft_i].[lbf_av]') / (1e-300 / 12)).toBeCloseTo(1, 14)
  })

  it('keeps the value bit for bit where the unit stays', () => {
    fc.assert(
      fc.property(
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        fc.constantFrom(...UNIT_TABLE),
        (value, entry) => {
          expect(Object.is(convert(value, entry.unit, entry.unit), value)).toBe(true)
        },
      ),
      { seed: 20261125, numRuns: 200 },
    )
  })

  // Two conversions of at most 4 roundings each: 8 x 2^-53 is below 1e-15; 1e-12 is the promise made to users.
  // Subnormal numbers hold fewer digits and are left out: no measured quantity is below 1e-290.
  it('comes back to the same value within 1e-12 after there and back', () => {
    fc.assert(
      fc.property(
        fc.double({ noNaN: true, min: -1e12, max: 1e12 }).filter((x) => x === 0 || Math.abs(x) > 1e-290),
        fc.constantFrom(...pairs),
        (value, [from, to]) => {
          const back = convert(convert(value, from, to), to, from)
          expect(Math.abs(back - value)).toBeLessThanOrEqual(1e-12 * Math.abs(value))
        },
      ),
      { seed: 20261125, numRuns: 2000 },
    )
  })
})

describe('unitKind and suggestUnit', () => {
  it('knows a unit by its exact spelling only', () => {
    expect(unitKind('N.m')).toBe('torque')
    expect(unitKind('J')).toBe('energy')
    for (const text of ['Nm', 'n.m', 'N.M', ' N.m', '', 'constructor', '__proto__']) expect(unitKind(text)).toBeNull()
  })

  it.each([
    ['Nm', 'N.m'],
    ['N·m', 'N.m'],
    ['N m', 'N.m'],
    [' Nm ', 'N.m'],
    [' N.m ', 'N.m'],
    ['N.m/kg/mo', 'N.m/kg/mo'],
    ['deg  /  s', 'deg/s'],
    ['nm.kg\u22121', 'N.m/kg'],
    ['°·s⁻²', null],
    ['deg·s⁻²', 'deg/s2'],
    ['kg·m²', 'kg.m2'],
    ['N-m', 'N.m'],
    ['N*m', 'N.m'],
    ['newton-metres', null],
    ['ft-lb', '[ft_i].[lbf_av]'],
    ['ft·lbf', '[ft_i].[lbf_av]'],
    ['lbf.ft', '[ft_i].[lbf_av]'],
    ['ft lbs', '[ft_i].[lbf_av]'],
    ['in-lb', '[in_i].[lbf_av]'],
    ['Nm/kg', 'N.m/kg'],
    ['deg/sec', 'deg/s'],
    ['°/s', 'deg/s'],
    ['°·s⁻¹', 'deg/s'],
    ['degrees', 'deg'],
    ['lbs', '[lb_av]'],
    ['KG', 'kg'],
    ['inches', '[in_i]'],
    ['sec', 's'],
    ['weeks', 'wk'],
    ['hz', 'Hz'],
    ['reps', '{repetition}'],
    ['mmHg', 'mm[Hg]'],
    ['%BW', null],
    ['% body weight', null],
    ['banana', null],
    ['', null],
  ])('suggests for "%s": %s', (text, expected) => {
    expect(suggestUnit(text)).toBe(expected)
  })

  it('suggests accepted units only, and only of the kind asked for', () => {
    expect(suggestUnit('lbs', 'torque')).toBeNull()
    expect(suggestUnit('lbs', 'mass')).toBe('[lb_av]')
    expect(suggestUnit('N.m')).toBe('N.m')
    fc.assert(
      fc.property(fc.string({ maxLength: 8 }), (text) => {
        const suggestion = suggestUnit(text)
        expect(suggestion === null || unitKind(suggestion) !== null).toBe(true)
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })
})
