import type { TestPlanWrite } from '../../store/test-plan-store.ts'

export function representTestPlan(row: TestPlanWrite) {
  const { precautionReason: _, ...plan } = row.document as { precautionReason?: string }
  return {
    id: row.id,
    subjectId: row.subjectId,
    dynamometerId: row.dynamometerId,
    plan,
    beyondPrecautions: row.brokenPrecautions as string[],
    precautionReason: row.precautionReason,
    recordedBy: row.recordedBy,
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type TestPlanRepresentation = ReturnType<typeof representTestPlan>
