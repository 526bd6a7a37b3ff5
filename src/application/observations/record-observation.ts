import { v7 as uuidv7 } from 'uuid'
import { documentError } from '../../domain/errors.ts'
import type { ObservationDocument } from '../../domain/observation-document.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { lockEpisode } from '../../store/episode-store.ts'
import { insertObservation } from '../../store/observation-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { representObservation } from './represent-observation.ts'

/** A newer observation with the same key and day takes the place of the older one, which stays readable. */
export async function recordObservation(
  ctx: Context,
  input: { episodeId: string; once: OnceKey; document: LazyDocument<ObservationDocument> },
): Promise<Created> {
  return createOnce(ctx, 'observations.create', input.once, async (tx, trace) => {
    const { subjectId } = orNotFound(await lockEpisode(tx, input.episodeId))
    trace.subject(subjectId)
    trace.resource('episode', input.episodeId)
    const { value } = input.document()
    refuseTomorrow(value.observedOn, ctx)
    const write = {
      id: uuidv7({ msecs: ctx.now.getTime() }),
      episodeId: input.episodeId,
      subjectId,
      key: value.key,
      value: value.value,
      observedOn: value.observedOn,
      note: value.note ?? null,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await insertObservation(tx, write)
    trace.resource('observation', write.id)
    const headers = { Location: `/v1/episodes/${input.episodeId}/observations` }
    return { status: 201, headers, body: representObservation({ ...write, supersededAt: null }) }
  })
}

/** By the calendar of the clinic. */
function refuseTomorrow(observedOn: string, ctx: Context): void {
  const today = new Intl.DateTimeFormat('sv-SE', { timeZone: ctx.actor.timeZone }).format(ctx.now)
  if (observedOn <= today) return
  throw documentError([{ pointer: '#/observedOn', code: 'out_of_range', message: 'This day has not come yet.' }])
}
