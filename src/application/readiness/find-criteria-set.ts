import { PUBLISHED_CRITERIA_SETS, type CriteriaSet } from '../../compute/index.ts'
import { loadCriteriaSet } from '../../store/criteria-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'

/** A clinic's own set, else a published one; published keys can't be taken by a clinic. */
export async function findCriteriaSet(
  tx: ClinicTx,
  wanted: { readonly key: string; readonly version: number | null },
): Promise<CriteriaSet | null> {
  const published = PUBLISHED_CRITERIA_SETS.filter((set) => set.key === wanted.key)
  if (published.length > 0) {
    return published.find((set) => wanted.version === null || set.version === wanted.version) ?? null
  }
  return (await loadCriteriaSet(tx, wanted.key, wanted.version)) as CriteriaSet | null
}
