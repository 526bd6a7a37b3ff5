import { loadConsents } from '../../store/consent-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representConsent } from './represent-consent.ts'

/** Newest first; those revoked or at their end too. */
export async function listConsents(ctx: Context, input: { subjectId: string }) {
  return perform(ctx, 'consents.list', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
    return { items: (await loadConsents(tx, input.subjectId)).map((row) => representConsent(row, ctx.now)) }
  })
}
