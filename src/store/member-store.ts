import type { PersonReference } from '../domain/reference.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'

export async function findMemberId(tx: ClinicTx, reference: PersonReference): Promise<string | null> {
  if (reference.id !== undefined) {
    const member = await tx.membership.findUnique({
      where: { clinicId_principalId: { clinicId: tx.clinicId, principalId: reference.id } },
      select: { principalId: true },
    })
    return member?.principalId ?? null
  }
  if (reference.identifier === undefined) return null
  const row = await tx.memberIdentifier.findUnique({
    where: { clinicId_system_value: { clinicId: tx.clinicId, ...reference.identifier } },
    select: { principalId: true },
  })
  return row?.principalId ?? null
}

export async function memberNames(tx: ClinicTx, principalIds: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.membership.findMany({
    where: { clinicId: tx.clinicId, principalId: { in: [...new Set(principalIds)] } },
    select: { principalId: true, displayName: true },
  })
  return new Map(rows.map((row) => [row.principalId, row.displayName]))
}
