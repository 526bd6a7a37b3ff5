import type { Measured } from '../types.ts'

/**
 * IKDC subjective total from the raw sum of its 18 scored items, 0 to 100.
 *
 * Formula: form "18_items_of_87": 100 x raw / 87 with items scored from 0. Form "items_from_1": 100 x (raw - 18) / 87 with items
 * scored from 1. The same raw sum means two different totals, so the form is part of the value: choose one and store it.
 *
 * Units: score. Errors: RangeError for an unknown form; a raw sum outside the form is null with a reason. Source: from memory (the
 * original scoring sheets were not at hand). Item wording is copyrighted and not held here.
 * What for: a total from the sum of the scored items. Limits: one form is never read as the other.
 *
 * @example ikdcTotal(60, '18_items_of_87') // { value: 68.96551724137932 }
 * @example ikdcTotal(60, 'items_from_1')   // { value: 48.275862068965516 }
 */
export function ikdcTotal(rawSum: number, form: '18_items_of_87' | 'items_from_1'): Measured {
  switch (form) {
    case '18_items_of_87':
      return scaled(rawSum, 0, 87)
    case 'items_from_1':
      return scaled(rawSum, 18, 105)
    default:
      throw new RangeError(`unknown form "${String(form)}"`)
  }
}

/**
 * IKDC subjective total with unanswered items: 100 x sum of the answered / their possible maximum, if at least 16 of 18 are answered.
 *
 * Units: score. Errors: fewer answers, or a sum outside what the answered items allow, is null with a reason. Source: from memory.
 * What for: a form with an item left out. Limits: the rule of 16 of 18 is from memory; other forms have others.
 *
 * @example ikdcTotalOfAnswered(58, 83, 17) // { value: 69.87951807228916 }
 */
export function ikdcTotalOfAnswered(sum: number, possibleMaximum: number, answered: number): Measured {
  if (!Number.isInteger(answered) || answered < 0 || answered > 18) throw new RangeError('18 items are scored')
  if (answered < 16) return { value: null, reason: 'too_few_items_answered' }
  return scaled(sum, 0, possibleMaximum)
}

/**
 * Paediatric IKDC total: 100 x raw / 92. Source: its published scoring sheet.
 *
 * What for: a child's form has another total than an adult's. Units: score. Errors: a sum outside the form is null
 * with a reason. Limits: never compare it with the adult form.
 *
 * @example pediatricIkdcTotal(60) // { value: 65.21739130434783 }
 */
export function pediatricIkdcTotal(rawSum: number): Measured {
  return scaled(rawSum, 0, 92)
}

/**
 * KOS activities of daily living total: 14 items of 0 to 5, 100 x sum / 70. Source: Irrgang 1998 JBJS 80A:1132-45, summary sheet.
 *
 * What for: a criterion of published sets. Units: score. Errors: a sum outside the form is null with a reason.
 * Limits: only of a form with all 14 items answered.
 *
 * @example kosAdlsTotal(63) // { value: 90 }
 * @example kosAdlsTotal(62) // { value: 88.57142857142857 }
 */
export function kosAdlsTotal(sum: number): Measured {
  return scaled(sum, 0, 70)
}

function scaled(raw: number, lowest: number, highest: number): Measured {
  if (!Number.isFinite(raw) || !Number.isFinite(highest) || highest <= lowest)
    return { value: null, reason: 'not_a_number' }
  if (raw < lowest || raw > highest) return { value: null, reason: 'outside_the_form' }
  return { value: (100 * (raw - lowest)) / (highest - lowest) }
}
