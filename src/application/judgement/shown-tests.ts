/** Which tests of a series are asked for. What is judged does not depend on it, except where it names what to compare with. */
import type { ComparabilityVerdict } from '../../compute/index.ts'

export interface ShownTests {
  /** ISO dates, inclusive; null: no limit. */
  readonly from: string | null
  readonly to: string | null
  /** How well tests must compare; null: however they do. */
  readonly comparability: 'comparable' | 'comparable_with_caution' | null
}

export function isWithin(startedAt: string, { from, to }: ShownTests): boolean {
  const day = startedAt.slice(0, 10)
  return (from === null || day >= from) && (to === null || day <= to)
}

export const isComparableEnough = (verdict: ComparabilityVerdict, { comparability }: ShownTests): boolean =>
  comparability === null || verdict === 'comparable' || verdict === comparability
