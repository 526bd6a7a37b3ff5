import { v7 as uuidv7 } from 'uuid'
import { AppError, documentError, type FieldFault } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { TestPlanDocument } from '../../domain/test-plan-document.ts'
import { loadEpisodesOfSubject, type EpisodeRow } from '../../store/episode-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import { insertTestPlan } from '../../store/test-plan-store.ts'
import { requireLicence } from '../../tenancy/policy.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { resolveDynamometer } from '../shared/references.ts'
import { activeEpisodes, brokenPrecautions, inFull } from './broken-precautions.ts'
import { representTestPlan } from './represent-test-plan.ts'

/** A plan that breaks a precaution is refused, unless a licensed clinician says why; the reason is kept with the plan. */
export async function createTestPlan(
  ctx: Context,
  input: { subjectId: string; once: OnceKey; document: LazyDocument<TestPlanDocument> },
): Promise<Created> {
  return createOnce(ctx, 'test-plans.create', input.once, async (tx, trace) => {
    const { subjectId } = input
    orNotFound(await loadSubject(tx, subjectId, ctx.now))
    trace.subject(subjectId)
    const { sent, value } = input.document()
    const dynamometerId = await resolveDynamometer(tx, value.dynamometer, '#/dynamometer')
    const episodes = activeEpisodes(await loadEpisodesOfSubject(tx, subjectId, ctx.now), value.joint)
    const broken = brokenBy(value, episodes)
    requireReason(ctx, value, broken)
    if (broken.length > 0) trace.detail('beyondPrecautions', broken.length)
    const write = {
      id: uuidv7(),
      subjectId,
      joint: value.joint,
      side: value.side,
      dynamometerId,
      plannedOn: value.plannedOn,
      document: sent,
      brokenPrecautions: broken.map(({ message }) => message),
      precautionReason: value.precautionReason ?? null,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await insertTestPlan(tx, write)
    trace.resource('test-plan', write.id)
    const headers = { Location: `/v1/subjects/${subjectId}/test-plans` }
    return { status: 201, headers, body: representTestPlan(write) }
  })
}

/** Faults that name the set and the precaution: empty where the plan keeps within all of them. */
export function brokenBy(
  plan: Pick<TestPlanDocument, 'side' | 'sets' | 'stops' | 'plannedOn'>,
  episodes: readonly EpisodeRow[],
): FieldFault[] {
  return plan.sets.flatMap(({ directions }, index) => {
    const test = { side: plan.side, directions, stops: plan.stops, withoutStops: 'breaks_range_limits' } as const
    return episodes
      .flatMap((episode) => brokenPrecautions(episode, test, plan.plannedOn))
      .map((precaution) => ({
        pointer: `#/sets/${index}`,
        code: 'precaution_broken',
        message: inFull(precaution),
      }))
  })
}

function requireReason(ctx: Context, { precautionReason }: TestPlanDocument, broken: readonly FieldFault[]): void {
  if (broken.length === 0) {
    if (precautionReason === undefined) return
    const message = 'No precaution is broken: there is nothing to give a reason for.'
    throw documentError([{ pointer: '#/precautionReason', code: 'not_applicable', message }])
  }
  if (precautionReason === undefined) {
    const detail = 'The plan breaks a precaution of the episode. A licensed clinician may go beyond it, with a reason.'
    throw new AppError('precaution_broken', { detail, faults: broken })
  }
  if (ctx.actor.role !== 'clinician') {
    throw new AppError('forbidden', { detail: 'Only a clinician goes beyond a precaution.' })
  }
  requireLicence(ctx.actor)
}
