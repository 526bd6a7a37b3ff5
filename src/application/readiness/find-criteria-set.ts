import { PUBLISHED_CRITERIA_SETS, type CriteriaSet } from '../../compute/index.ts'
import { loadCriteriaSets } from '../../store/criteria-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'

export interface WantedSet {
  readonly key: string
  /** null: the newest. */
  readonly version: number | null
}

export async function findCriteriaSet(tx: ClinicTx, wanted: WantedSet): Promise<CriteriaSet | null> {
  return (await findCriteriaSets(tx, [wanted]))[0] ?? null
}

/**
 * In the order asked: a clinic's own set, else a published one; published keys can't be taken by a clinic. A retired version is
 * found by its number and is never the newest.
 */
export async function findCriteriaSets(
  tx: ClinicTx,
  wanted: readonly WantedSet[],
): Promise<readonly (CriteriaSet | null)[]> {
  const keys = [...new Set(wanted.map(({ key }) => key))].filter((key) => publishedAs(key).length === 0)
  const own = keys.length === 0 ? [] : await loadCriteriaSets(tx, keys)
  return wanted.map(({ key, version }) => {
    const published = publishedAs(key)
    if (published.length > 0) return published.find((set) => version === null || set.version === version) ?? null
    const row = own.find(
      (set) => set.key === key && (version === null ? set.retiredAt === null : set.version === version),
    )
    return (row?.document ?? null) as CriteriaSet | null
  })
}

const publishedAs = (key: string): readonly CriteriaSet[] => PUBLISHED_CRITERIA_SETS.filter((set) => set.key === key)
