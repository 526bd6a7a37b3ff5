import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { dayIn } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import { referenceNotFound } from '../shared/references.ts'
import { loadDescription } from '../../store/dynamometer-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import { describeNextSetup, type NextSetup } from './describe-next-setup.ts'
import { loadNextSetup, type Limb } from './load-next-setup.ts'

/** How this limb is set up on this machine next, in the order of the work. */
export async function readNextSetup(ctx: Context, input: { limb: Limb; on: string | null }): Promise<NextSetup> {
  const record = await perform(ctx, 'next-setup.read', async (tx, trace) => {
    const { subjectId, dynamometerId } = input.limb
    orNotFound(await loadSubject(tx, subjectId, ctx.now))
    trace.subject(subjectId)
    if ((await loadDescription(tx, dynamometerId, null)) === null) throw referenceNotFound('#/query/dynamometerId')
    trace.resource('dynamometer', dynamometerId)
    return orNotFound(await loadNextSetup(tx, input.limb, ctx.now))
  })
  const on = input.on ?? dayIn(ctx.actor.timeZone, ctx.now)
  return describeNextSetup(record, { limb: input.limb, on, clinicName: ctx.actor.clinicName })
}
