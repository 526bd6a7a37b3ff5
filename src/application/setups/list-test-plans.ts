import { loadSubject } from '../../store/subject-store.ts'
import { loadTestPlans } from '../../store/test-plan-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representTestPlan, type TestPlanRepresentation } from './represent-test-plan.ts'

/** The newest hundred of a subject, newest first. */
export async function listTestPlans(
  ctx: Context,
  input: { subjectId: string },
): Promise<{ items: TestPlanRepresentation[] }> {
  return perform(ctx, 'test-plans.list', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    const rows = await loadTestPlans(tx, { subjectId: input.subjectId, knownAt: ctx.now, take: 100 })
    return { items: rows.map(representTestPlan) }
  })
}
