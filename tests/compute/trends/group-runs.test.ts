import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { groupRuns, type ComparabilityVerdict } from '../../../src/compute/index.ts'

interface Visit {
  readonly straps: 'both' | 'none'
  readonly padMm: number
}
/** A small but real rule: other straps do not compare, pads up to 10 mm apart do, up to 20 mm with caution. */
function compare(earlier: Visit, later: Visit): { verdict: ComparabilityVerdict; factor: string } {
  if (earlier.straps !== later.straps) return { verdict: 'not_comparable', factor: 'trunk_straps' }
  const apart = Math.abs(earlier.padMm - later.padMm)
  if (apart > 20) return { verdict: 'not_comparable', factor: 'pad' }
  return { verdict: apart > 10 ? 'comparable_with_caution' : 'comparable', factor: 'pad' }
}
const at = (padMm: number, straps: Visit['straps'] = 'both'): Visit => ({ straps, padMm })

describe('runs of comparable points', () => {
  it('lets an odd visit stand alone and returns to the run before it', () => {
    const grouped = groupRuns([at(0), at(2), at(1, 'none'), at(3), at(15)], compare)
    expect(grouped.runs).toEqual([
      { label: 'A', members: [0, 1, 3, 4], comparability: 'comparable_with_caution' },
      { label: 'B', members: [2], comparability: 'comparable' },
    ])
    expect(grouped.runOf).toEqual(['A', 'A', 'B', 'A', 'A'])
    expect(grouped.previousOf).toEqual([null, 0, null, 1, 3])
    expect(grouped.splits).toEqual([
      { index: 2, against: 1, comparison: { verdict: 'not_comparable', factor: 'trunk_straps' } },
    ])
  })

  it('is anchored to its first member: small tolerated steps do not add up', () => {
    const grouped = groupRuns([at(0), at(10), at(20), at(30), at(40)], compare)
    expect(grouped.runs.map((run) => run.members)).toEqual([
      [0, 1, 2],
      [3, 4],
    ])
    expect(grouped.splits).toEqual([{ index: 3, against: 0, comparison: { verdict: 'not_comparable', factor: 'pad' } }])
  })

  it('asks for the previous member too: near the first but far from the last does not join', () => {
    const grouped = groupRuns([at(0), at(20), at(-5)], compare)
    expect(grouped.runs.map((run) => run.members)).toEqual([[0, 1], [2]])
    expect(grouped.splits[0]).toMatchObject({ index: 2, against: 1 })
  })

  it('joins the run that began first where several would take a point', () => {
    const grouped = groupRuns([at(0), at(30), at(15)], compare)
    expect(grouped.runOf).toEqual(['A', 'B', 'A'])
  })

  it('does not join what cannot be assessed', () => {
    const grouped = groupRuns([1, 2], () => ({ verdict: 'not_assessable' as const }))
    expect(grouped.runOf).toEqual(['A', 'B'])
    expect(grouped.splits[0]?.comparison.verdict).toBe('not_assessable')
  })

  it('labels the twenty-seventh run AA', () => {
    const grouped = groupRuns(
      Array.from({ length: 54 }, (_, i) => i),
      () => ({ verdict: 'not_comparable' as const }),
    )
    expect(grouped.runs[25]?.label).toBe('Z')
    expect(grouped.runs[26]?.label).toBe('AA')
    expect(grouped.runs[52]?.label).toBe('BA')
  })

  it('of no points are none, of one point one', () => {
    expect(groupRuns([], compare)).toEqual({ runs: [], runOf: [], previousOf: [], splits: [] })
    expect(groupRuns([at(0)], compare)).toMatchObject({ runOf: ['A'], splits: [] })
  })

  it('hold for any series: every member compares with the first and the one before, every point is in one run', () => {
    const visit = fc.record({
      straps: fc.constantFrom('both' as const, 'none' as const),
      padMm: fc.integer({ min: 0, max: 60 }),
    })
    fc.assert(
      fc.property(fc.array(visit, { maxLength: 15 }), (visits) => {
        const { runs, runOf, splits } = groupRuns(visits, compare)
        expect(runs.flatMap((run) => run.members).toSorted((a, b) => a - b)).toEqual(visits.map((_, i) => i))
        for (const { members, label, comparability } of runs) {
          const verdicts = members
            .slice(1)
            .flatMap((member, i) => [
              compare(visits[members[0] as number] as Visit, visits[member] as Visit).verdict,
              compare(visits[members[i] as number] as Visit, visits[member] as Visit).verdict,
            ])
          expect(verdicts).not.toContain('not_comparable')
          expect(comparability === 'comparable_with_caution').toBe(verdicts.includes('comparable_with_caution'))
          for (const member of members) expect(runOf[member]).toBe(label)
        }
        expect(splits.length).toBe(Math.max(0, runs.length - 1))
        for (const split of splits) expect(split.comparison.verdict).toBe('not_comparable')
      }),
      { seed: 20261125, numRuns: 400 },
    )
  })
})
