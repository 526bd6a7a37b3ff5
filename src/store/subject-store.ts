import type { PersonReference, SystemAndValue } from '../domain/reference.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, inForceAt } from './dates.ts'
import type { Prisma } from './generated/client.ts'

export interface SubjectWrite {
  readonly subjectId: string
  readonly version: number
  readonly identifiers: readonly SystemAndValue[]
  readonly document: unknown
  readonly sex: string
  readonly birthDate: string | undefined
  readonly heightM: number | undefined
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface SubjectRow {
  readonly id: string
  readonly version: number
  readonly sex: 'female' | 'male' | 'unknown'
  readonly heightM: number | null
  readonly document: unknown
  readonly recordedAt: Date
}

export async function findSubjectId(tx: ClinicTx, reference: PersonReference): Promise<string | null> {
  if (reference.id !== undefined) {
    const row = await tx.subject.findUnique({
      where: { clinicId_id: { clinicId: tx.clinicId, id: reference.id } },
      select: { id: true },
    })
    return row?.id ?? null
  }
  if (reference.identifier === undefined) return null
  const row = await tx.subjectIdentifier.findUnique({
    where: { clinicId_system_value: { clinicId: tx.clinicId, ...reference.identifier } },
    select: { subjectId: true },
  })
  return row?.subjectId ?? null
}

/** As known at an instant; null where the subject did not exist then. */
export async function loadSubject(tx: ClinicTx, id: string, knownAt: Date): Promise<SubjectRow | null> {
  return (await loadSubjects(tx, [id], knownAt))[0] ?? null
}

export async function loadSubjects(tx: ClinicTx, ids: readonly string[], knownAt: Date): Promise<SubjectRow[]> {
  const rows = await tx.subjectVersion.findMany({
    where: { clinicId: tx.clinicId, subjectId: { in: [...ids] }, ...inForceAt(knownAt) },
  })
  return rows.map(toRow)
}

/** Locks the subject until the transaction ends, so that two edits of one version can't both win. */
export async function lockSubjectVersion(tx: ClinicTx, id: string): Promise<number | null> {
  const rows = await tx.$queryRaw<{ version: number }[]>`
    select version from subject where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  return rows[0]?.version ?? null
}

export async function listSubjects(tx: ClinicTx, after: string | null, take: number): Promise<SubjectRow[]> {
  const rows = await tx.subjectVersion.findMany({
    where: { clinicId: tx.clinicId, supersededAt: null, ...(after === null ? {} : { subjectId: { gt: after } }) },
    orderBy: { subjectId: 'asc' },
    take,
  })
  return rows.map(toRow)
}

export async function identifiersInUse(
  tx: ClinicTx,
  identifiers: readonly SystemAndValue[],
  exceptSubjectId: string,
): Promise<SystemAndValue[]> {
  if (identifiers.length === 0) return []
  return tx.subjectIdentifier.findMany({
    where: {
      clinicId: tx.clinicId,
      subjectId: { not: exceptSubjectId },
      OR: identifiers.map(({ system, value }) => ({ system, value })),
    },
    select: { system: true, value: true },
  })
}

export async function insertSubject(tx: ClinicTx, write: SubjectWrite): Promise<void> {
  await tx.subject.create({
    data: { clinicId: tx.clinicId, id: write.subjectId, version: write.version, createdAt: write.recordedAt },
  })
  await writeVersion(tx, write)
}

export async function reviseSubject(tx: ClinicTx, write: SubjectWrite): Promise<void> {
  const key = { clinicId: tx.clinicId, subjectId: write.subjectId }
  await tx.subjectVersion.updateMany({
    where: { ...key, supersededAt: null },
    data: { supersededAt: write.recordedAt },
  })
  await tx.subject.updateMany({
    where: { clinicId: tx.clinicId, id: write.subjectId },
    data: { version: write.version },
  })
  await tx.subjectIdentifier.deleteMany({ where: key })
  await writeVersion(tx, write)
}

async function writeVersion(tx: ClinicTx, write: SubjectWrite): Promise<void> {
  const key = { clinicId: tx.clinicId, subjectId: write.subjectId }
  await tx.subjectVersion.create({
    data: {
      ...key,
      version: write.version,
      document: write.document as Prisma.InputJsonValue,
      sex: write.sex,
      birthDate: write.birthDate === undefined ? null : asDate(write.birthDate),
      heightM: write.heightM ?? null,
      recordedBy: write.recordedBy,
      recordedAt: write.recordedAt,
    },
  })
  if (write.identifiers.length > 0) {
    await tx.subjectIdentifier.createMany({
      data: write.identifiers.map((i) => ({ ...key, system: i.system, value: i.value })),
    })
  }
}

function toRow(row: {
  subjectId: string
  version: number
  sex: string
  heightM: number | null
  document: unknown
  recordedAt: Date
}): SubjectRow {
  // prettier-ignore
  return { ...row, id: row.subjectId, sex: row.sex as SubjectRow['sex'] }
}
