import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, dateOnly } from './dates.ts'
import type { Prisma } from './generated/client.ts'

export interface TestPlanWrite {
  readonly id: string
  readonly subjectId: string
  readonly joint: string
  readonly side: string
  readonly dynamometerId: string
  readonly plannedOn: string
  readonly document: unknown
  readonly brokenPrecautions: unknown
  /** A clinician's, wherever a precaution is broken. */
  readonly precautionReason: string | null
  readonly recordedBy: string
  readonly recordedAt: Date
}

export async function insertTestPlan(tx: ClinicTx, write: TestPlanWrite): Promise<void> {
  const { plannedOn, document, brokenPrecautions, ...columns } = write
  await tx.testPlan.create({
    data: {
      ...columns,
      clinicId: tx.clinicId,
      plannedOn: asDate(plannedOn),
      document: document as Prisma.InputJsonValue,
      brokenPrecautions: brokenPrecautions as Prisma.InputJsonValue,
    },
  })
}

/** Newest first. */
export async function loadTestPlans(
  tx: ClinicTx,
  filter: {
    readonly subjectId: string
    readonly knownAt: Date
    readonly take: number
    readonly limb?: { readonly joint: string; readonly side: string; readonly dynamometerId: string }
  },
): Promise<TestPlanWrite[]> {
  const rows = await tx.testPlan.findMany({
    where: {
      clinicId: tx.clinicId,
      subjectId: filter.subjectId,
      recordedAt: { lte: filter.knownAt },
      ...filter.limb,
    },
    orderBy: [{ recordedAt: 'desc' }, { id: 'desc' }],
    take: filter.take,
  })
  return rows.map((row) => ({ ...row, plannedOn: dateOnly(row.plannedOn) }))
}
