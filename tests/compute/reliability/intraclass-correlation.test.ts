import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  intraclassCorrelations,
  testRetestError,
  type IccForm,
  type IntraclassCorrelations,
} from '../../../src/compute/index.ts'

const SHROUT_FLEISS = [
  [9, 2, 5, 8],
  [6, 1, 3, 2],
  [8, 4, 6, 8],
  [7, 1, 2, 6],
  [10, 5, 6, 9],
  [6, 2, 4, 7],
]

function correlations(table: readonly (readonly number[])[], confidence = 0.95): IntraclassCorrelations {
  const answer = intraclassCorrelations(table, confidence)
  if ('reason' in answer) throw new Error(answer.reason)
  return answer
}

describe('intraclass correlations of Shrout & Fleiss 1979 (Psychol Bull 86:420-8)', () => {
  const answer = (): IntraclassCorrelations => correlations(SHROUT_FLEISS)

  it('give the four mean squares', () => {
    expect(answer().meanSquares.betweenSubjects).toBeCloseTo(11.241667, 6)
    expect(answer().meanSquares.withinSubjects).toBeCloseTo(6.263889, 6)
    expect(answer().meanSquares.betweenTrials).toBeCloseTo(32.486111, 6)
    expect(answer().meanSquares.residual).toBeCloseTo(1.019444, 6)
  })

  it('give the F ratios of the one-way and the mixed form', () => {
    const { betweenSubjects, withinSubjects, residual } = answer().meanSquares
    expect(betweenSubjects / residual).toBeCloseTo(11.027248, 6)
    expect(betweenSubjects / withinSubjects).toBeCloseTo(1.794678, 6)
  })

  it.each<[IccForm, number, string]>([
    ['ICC(1,1)', 0.165742, '.17'],
    ['ICC(2,1)', 0.289764, '.29'],
    ['ICC(3,1)', 0.714841, '.71'],
    ['ICC(1,k)', 0.442797, '.44'],
    ['ICC(2,k)', 0.620051, '.62'],
    ['ICC(3,k)', 0.909316, '.91'],
  ])('give %s as %f, printed %s', (form, value, printed) => {
    expect(answer().forms[form].value).toBeCloseTo(value, 6)
    expect(answer().forms[form].value.toFixed(2).replace(/^0/, '')).toBe(printed)
  })

  it('give the intervals of ICC(1,1) and ICC(3,1)', () => {
    expect(answer().forms['ICC(3,1)'].interval?.low).toBeCloseTo(0.342465, 6)
    expect(answer().forms['ICC(3,1)'].interval?.high).toBeCloseTo(0.945858, 6)
    expect(answer().forms['ICC(1,1)'].interval?.low).toBeCloseTo(-0.132932, 5)
    expect(answer().forms['ICC(1,1)'].interval?.high).toBeCloseTo(0.72256, 5)
  })

  it('give both standard errors of measurement, agreement and consistency', () => {
    expect(answer().semAgreement).toBeCloseTo(2.502776, 6)
    expect(answer().semConsistency).toBeCloseTo(1.009675, 6)
  })
})

describe('intraclass correlations against scipy', () => {
  const golden = JSON.parse(
    readFileSync(new URL('../../golden/intraclass-correlation.json', import.meta.url), 'utf8'),
  ) as {
    cases: { name: string; confidence: number; table: number[][]; forms: Record<IccForm, [number, number, number]> }[]
  }

  // Scipy 1.10's F quantile is good to about 1e-9, hence eight decimals for the intervals.
  it.each(golden.cases)('agree in value and interval: $name at $confidence', ({ table, confidence, forms }) => {
    const answer = correlations(table, confidence)
    for (const [form, [value, low, high]] of Object.entries(forms) as [IccForm, [number, number, number]][]) {
      expect(answer.forms[form].value).toBeCloseTo(value, 11)
      expect(answer.forms[form].interval?.low).toBeCloseTo(low, 8)
      expect(answer.forms[form].interval?.high).toBeCloseTo(high, 8)
    }
  })
})

describe('intraclass correlations: laws and bad data', () => {
  const table = fc.tuple(fc.integer({ min: 2, max: 8 }), fc.integer({ min: 2, max: 4 })).chain(([n, k]) =>
    fc.array(fc.array(fc.integer({ min: 0, max: 300 }), { minLength: k, maxLength: k }), {
      minLength: n,
      maxLength: n,
    }),
  )

  it('never let NaN out, whatever the table', () => {
    fc.assert(
      fc.property(table, (rows) => {
        const answer = intraclassCorrelations(rows, 0.95)
        if ('reason' in answer) return
        for (const { value, interval } of Object.values(answer.forms)) {
          expect(Number.isFinite(value)).toBe(true)
          if (interval !== null) expect(Number.isFinite(interval.low) && Number.isFinite(interval.high)).toBe(true)
        }
      }),
      { seed: 20261125, numRuns: 400 },
    )
  })

  it('do not change with the unit of the data or the order of the subjects', () => {
    fc.assert(
      fc.property(table, (rows) => {
        const answer = intraclassCorrelations(rows, 0.95)
        if ('reason' in answer) return
        const other = correlations(rows.toReversed().map((row) => row.map((value) => 1.3558179483314004 * value + 20)))
        for (const form of Object.keys(answer.forms) as IccForm[]) {
          expect(other.forms[form].value).toBeCloseTo(answer.forms[form].value, 7)
        }
        expect(other.semConsistency).toBeCloseTo(1.3558179483314004 * answer.semConsistency, 7)
      }),
      { seed: 20261125, numRuns: 200 },
    )
  })

  it('have a consistency SEM that is the typical error of two trials', () => {
    const first = [62, 78, 81, 55, 66]
    const second = [67, 76, 87, 55, 63]
    const pairs = testRetestError(first, second, 'absolute')
    if ('reason' in pairs) throw new Error(pairs.reason)
    const answer = correlations(first.map((value, i) => [value, second[i] as number]))
    expect(answer.semConsistency).toBeCloseTo(pairs.typicalError, 12)
    expect(answer.semAgreement).toBeCloseTo(pairs.sem, 12)
  })

  it('say why there are none: too few subjects or trials, no variance between subjects', () => {
    expect(intraclassCorrelations([[1, 2]], 0.95)).toEqual({ reason: 'too_few_subjects_or_trials' })
    expect(intraclassCorrelations([[1], [2]], 0.95)).toEqual({ reason: 'too_few_subjects_or_trials' })
    expect(
      intraclassCorrelations(
        [
          [1, 2],
          [2, 1],
        ],
        0.95,
      ),
    ).toEqual({ reason: 'no_variance_between_subjects' })
  })

  it('give no interval where nothing is left to estimate error from', () => {
    const answer = correlations([
      [1, 2],
      [3, 4],
    ])
    expect(answer.forms['ICC(3,1)']).toEqual({ value: 1, interval: null })
    expect(answer.forms['ICC(2,1)'].interval).toBeNull()
    // Every subject scored alike each time: nothing left within subjects either.
    const alike = correlations([
      [1, 1],
      [3, 3],
    ])
    for (const form of Object.values(alike.forms)) expect(form).toEqual({ value: 1, interval: null })
    expect(alike.semAgreement).toBe(0)
  })

  it('give no interval where the weights of the error cancel: a strongly negative coefficient of the random form', () => {
    const answer = correlations([
      [1, 9],
      [9, 1],
      [5, 5.5],
    ])
    expect(answer.forms['ICC(2,1)'].value).toBeLessThan(0)
    for (const { interval } of Object.values(answer.forms)) {
      if (interval !== null) expect(interval.low).toBeLessThanOrEqual(interval.high)
    }
  })

  it('call a ragged table and an impossible confidence a caller mistake', () => {
    expect(() => intraclassCorrelations([[1, 2], [1]], 0.95)).toThrow('the same number of trials')
    expect(() =>
      intraclassCorrelations(
        [
          [1, 2],
          [1, 2, 3],
          [1, 2],
        ],
        0.95,
      ),
    ).toThrow('the same number of trials')
    for (const confidence of [0, 1, 95, NaN]) {
      expect(() => intraclassCorrelations(SHROUT_FLEISS, confidence)).toThrow('confidence lies between 0 and 1')
    }
    expect(intraclassCorrelations([], 0.95)).toEqual({ reason: 'too_few_subjects_or_trials' })
    expect(() =>
      intraclassCorrelations(
        [
          [1, NaN],
          [2, 3],
        ],
        0.95,
      ),
    ).toThrow(RangeError)
  })
})
