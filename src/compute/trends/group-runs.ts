import type { ComparabilityVerdict } from '../comparability/compare-facts.ts'

/** What comparing two points says; callers may carry more (reasons, tolerances) and get it back. */
export interface PairComparison {
  readonly verdict: ComparabilityVerdict
}

export interface Run {
  /** A, B, ... in order of their first member. */
  readonly label: string
  /** Indexes into the points given, in time order. */
  readonly members: readonly number[]
  /** The worst verdict among the comparisons that built the run; comparable for a single point. */
  readonly comparability: 'comparable' | 'comparable_with_caution'
}

export interface RunSplit<C extends PairComparison> {
  /** The point that starts a new run. */
  readonly index: number
  /** The member of the run before it that refused it. */
  readonly against: number
  readonly comparison: C
}

export interface GroupedRuns<C extends PairComparison> {
  readonly runs: readonly Run[]
  /** Label of each point's run. */
  readonly runOf: readonly string[]
  /** Index of the previous member of the same run; null for a run's first member. */
  readonly previousOf: readonly (number | null)[]
  readonly splits: readonly RunSplit<C>[]
}

function runLabel(ordinal: number): string {
  return (ordinal >= 26 ? runLabel(Math.floor(ordinal / 26) - 1) : '') + String.fromCharCode(65 + (ordinal % 26))
}

function joins(verdict: ComparabilityVerdict): verdict is 'comparable' | 'comparable_with_caution' {
  return verdict === 'comparable' || verdict === 'comparable_with_caution'
}

/**
 * Groups the points of a series into runs whose members may be compared.
 *
 * A point joins a run when it is comparable (or comparable with caution) with the run's FIRST member and with its LAST one so far. The first,
 * because comparability is not transitive: nine tolerated steps of 10 mm are 9 cm. The last, because that is what a change is drawn to. Of several
 * runs that would take it, the one that began earliest does, so a visit after an odd one returns to the baseline's run and the odd one
 * stands alone. not_assessable does not join: unknown is not comparable.
 * Points are given in time order; `compare(earlier, later)` is asked only for pairs needed. Errors: none of its own.
 * Source: engineering choice; the non-transitivity is arithmetic.
 * What for: a trend only through tests that may be compared. Units: none. Limits: a test that fits no run stands
 * alone.
 * @example five points, the third without trunk straps: runs A [0, 1, 3, 4] and B [2], one split at 2 against 1
 */
export function groupRuns<P, C extends PairComparison>(
  points: readonly P[],
  compare: (earlier: P, later: P) => C,
): GroupedRuns<C> {
  const building: { members: number[]; caution: boolean }[] = []
  const runIndexOf: number[] = []
  const previousOf: (number | null)[] = []
  const splits: RunSplit<C>[] = []
  points.forEach((point, index) => {
    const tried = new Map<number, C>()
    const against = (member: number): C => {
      const done = tried.get(member) ?? compare(points[member] as P, point)
      tried.set(member, done)
      return done
    }
    const home = building.findIndex(
      ({ members }) => joins(against(members[0] as number).verdict) && joins(against(members.at(-1) as number).verdict),
    )
    const run = building[home]
    if (run !== undefined) {
      const anchors = [run.members[0] as number, run.members.at(-1) as number]
      run.caution ||= anchors.some((member) => against(member).verdict === 'comparable_with_caution')
      previousOf.push(run.members.at(-1) as number)
      run.members.push(index)
      runIndexOf.push(home)
      return
    }
    if (index > 0) {
      const left = building[runIndexOf[index - 1] as number] as { members: number[] }
      const last = left.members.at(-1) as number
      const refused = joins(against(last).verdict) ? (left.members[0] as number) : last
      splits.push({ index, against: refused, comparison: against(refused) })
    }
    building.push({ members: [index], caution: false })
    runIndexOf.push(building.length - 1)
    previousOf.push(null)
  })
  return {
    runs: building.map(({ members, caution }, ordinal) => ({
      label: runLabel(ordinal),
      members,
      comparability: caution ? 'comparable_with_caution' : 'comparable',
    })),
    runOf: runIndexOf.map(runLabel),
    previousOf,
    splits,
  }
}
