import { describe, it, expect } from 'vitest'
import {
  ikdcTotal,
  ikdcTotalOfAnswered,
  kosAdlsTotal,
  pediatricIkdcTotal,
} from '../../../src/compute/readiness/index.ts'

describe('questionnaire totals', () => {
  it('scores the IKDC by the form that is named', () => {
    expect(ikdcTotal(60, '18_items_of_87').value).toBeCloseTo(68.9655, 4)
    expect(ikdcTotal(60, 'items_from_1').value).toBeCloseTo(48.2759, 4)
    expect(() => ikdcTotal(60, 'another' as 'items_from_1')).toThrow(RangeError)
  })

  it('scales what was answered when at least 16 of 18 items were', () => {
    expect(ikdcTotalOfAnswered(58, 83, 17).value).toBeCloseTo(69.8795, 4)
    expect(ikdcTotalOfAnswered(58, 78, 16).value).toBeCloseTo(74.359, 4)
    expect(ikdcTotalOfAnswered(58, 83, 15)).toEqual({ value: null, reason: 'too_few_items_answered' })
    expect(() => ikdcTotalOfAnswered(58, 83, 19)).toThrow(RangeError)
  })

  it('scores the paediatric form of 92 and the KOS of 70, where 63 is exactly 90', () => {
    expect(pediatricIkdcTotal(60).value).toBeCloseTo(65.2174, 4)
    expect(kosAdlsTotal(63)).toEqual({ value: 90 })
    expect(kosAdlsTotal(62).value).toBeCloseTo(88.5714, 4)
  })

  it('has no total for a sum the form cannot give', () => {
    expect(kosAdlsTotal(71)).toEqual({ value: null, reason: 'outside_the_form' })
    expect(ikdcTotal(17, 'items_from_1')).toEqual({ value: null, reason: 'outside_the_form' })
    expect(kosAdlsTotal(Number.NaN)).toEqual({ value: null, reason: 'not_a_number' })
    expect(ikdcTotalOfAnswered(10, 0, 18)).toEqual({ value: null, reason: 'not_a_number' })
  })
})
