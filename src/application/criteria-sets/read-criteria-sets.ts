import { PUBLISHED_CRITERIA_SETS, type CriteriaSet } from '../../compute/index.ts'
import { listCriteriaSets } from '../../store/criteria-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { findCriteriaSet } from '../readiness/find-criteria-set.ts'
import { orNotFound } from '../shared/existing.ts'
import { representCriteriaSet } from './represent-criteria-set.ts'

/** Published sets first, then the clinic's own; each in its newest version. */
export async function readCriteriaSets(ctx: Context) {
  return perform(ctx, 'criteria-sets.read', async (tx) => {
    const own = (await listCriteriaSets(tx)) as CriteriaSet[]
    return { items: [...PUBLISHED_CRITERIA_SETS, ...own].map(representCriteriaSet) }
  })
}

export async function readCriteriaSet(ctx: Context, input: { key: string; version: number | null }) {
  return perform(ctx, 'criteria-sets.read', async (tx, trace) => {
    const set = orNotFound(await findCriteriaSet(tx, input))
    trace.resource('criteria-set', `${set.key}@${set.version}`)
    return representCriteriaSet(set)
  })
}
