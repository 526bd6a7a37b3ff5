import { loadReferenceSetups } from '../../store/setup-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representReferenceSetup, type ReferenceSetupRepresentation } from './represent-reference-setup.ts'

export interface ReferenceSetupFilter {
  readonly joint?: string
  readonly side?: string
  readonly dynamometerId?: string
}

/** Newest first: those in force at an instant, or the whole history with every reason. */
export async function listReferenceSetups(
  ctx: Context,
  input: { subjectId: string; history: boolean; asKnownAt: Date | null; limb: ReferenceSetupFilter },
): Promise<{ items: ReferenceSetupRepresentation[] }> {
  return perform(ctx, 'reference-setups.list', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    const knownAt = input.history ? null : (input.asKnownAt ?? ctx.now)
    const rows = await loadReferenceSetups(tx, { subjectId: input.subjectId, knownAt, ...input.limb })
    return { items: rows.map(representReferenceSetup) }
  })
}
