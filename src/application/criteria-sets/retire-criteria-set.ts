import type { RetirementDocument } from '../../domain/criteria-set-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { lockCriteriaSetKey, newestCriteriaSet, retireCriteriaSet } from '../../store/criteria-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'

/** Out of the list and no longer found by its key alone; an episode or a report that names a version still reads it. */
export async function retireOwnCriteriaSet(
  ctx: Context,
  input: { key: string; once: OnceKey; document: LazyDocument<RetirementDocument> },
): Promise<Created> {
  return createOnce(ctx, 'criteria-sets.retire', input.once, async (tx, trace) => {
    await lockCriteriaSetKey(tx, input.key)
    const newest = orNotFound(await newestCriteriaSet(tx, input.key))
    const { reason } = input.document().value
    const retirement = { retiredAt: ctx.now, retiredBy: ctx.actor.principalId, retiredReason: reason }
    if (!(await retireCriteriaSet(tx, input.key, retirement))) throw new AppError('already_decided')
    trace.resource('criteria-set', `${input.key}@${newest.version}`)
    const body = { key: input.key, newestVersion: newest.version, retiredAt: ctx.now.toISOString(), reason }
    return { status: 201, headers: { Location: '/v1/criteria-sets' }, body }
  })
}
