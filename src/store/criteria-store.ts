import type { ClinicTx } from '../tenancy/with-clinic.ts'

/** The document of a clinic's own criteria set; null version asks for the newest that is not retired. */
export async function loadCriteriaSet(tx: ClinicTx, key: string, version: number | null): Promise<unknown> {
  const row = await tx.criteriaSet.findFirst({
    where: { clinicId: tx.clinicId, key, ...(version === null ? { retiredAt: null } : { version }) },
    orderBy: { version: 'desc' },
  })
  return row?.document ?? null
}

/** The clinic's own sets that are not retired, each in its newest version. */
export async function listCriteriaSets(tx: ClinicTx): Promise<unknown[]> {
  const rows = await tx.criteriaSet.findMany({
    where: { clinicId: tx.clinicId, retiredAt: null },
    orderBy: [{ key: 'asc' }, { version: 'desc' }],
    distinct: ['key'],
  })
  return rows.map((row) => row.document)
}
