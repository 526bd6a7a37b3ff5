import type { ClinicTx } from '../tenancy/with-clinic.ts'

/** The document of a clinic's own criteria set; null version asks for the newest that is not retired. */
export async function loadCriteriaSet(tx: ClinicTx, key: string, version: number | null): Promise<unknown> {
  const row = await tx.criteriaSet.findFirst({
    where: { clinicId: tx.clinicId, key, ...(version === null ? { retiredAt: null } : { version }) },
    orderBy: { version: 'desc' },
  })
  return row?.document ?? null
}
