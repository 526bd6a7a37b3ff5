import { v7 as uuidv7 } from 'uuid'
import { AppError, documentError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { ReferenceSetupDocument } from '../../domain/reference-setup-document.ts'
import { loadSession } from '../../store/session-store.ts'
import { loadSetupOfSession, lockReferenceSetup, pinReferenceSetup as pin } from '../../store/setup-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { referenceNotFound, resolveSession } from '../shared/references.ts'
import { representReferenceSetup } from './represent-reference-setup.ts'

/** The only way a reference setup comes to be or changes: small tolerated steps can't add up behind anyone's back. */
export async function pinReferenceSetup(
  ctx: Context,
  input: { subjectId: string; once: OnceKey; document: LazyDocument<ReferenceSetupDocument> },
): Promise<Created> {
  return createOnce(ctx, 'reference-setups.pin', input.once, async (tx, trace) => {
    const { subjectId } = input
    orNotFound(await loadSubject(tx, subjectId, ctx.now))
    trace.subject(subjectId)
    const { session: reference, setup: key, reason } = input.document().value
    const sessionId = await resolveSession(tx, reference, '#/session')
    const session = await loadSession(tx, sessionId, null)
    if (session === null || session.subjectId !== subjectId) throw referenceNotFound('#/session')
    if (session.kind === 'entered_in_error') throw new AppError('withdrawn')
    const setup = await loadSetupOfSession(tx, { sessionId, sessionVersion: session.version, key })
    if (setup === null) throw referenceNotFound('#/setup')
    const { dynamometerId } = setup
    if (dynamometerId === null) throw withoutDynamometer()
    const limb = { subjectId, joint: setup.joint, side: setup.side, dynamometerId }
    const write = {
      ...limb,
      id: uuidv7(),
      version: (await lockReferenceSetup(tx, limb)) + 1,
      setupId: setup.id,
      reason,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await pin(tx, write)
    trace.resource('reference-setup', write.id)
    const body = representReferenceSetup({ ...write, supersededAt: null, setup })
    return { status: 201, headers: { Location: `/v1/subjects/${subjectId}/reference-setups` }, body }
  })
}

function withoutDynamometer(): AppError {
  const message = 'The session names no dynamometer: its setup cannot be put back anywhere.'
  return documentError([{ pointer: '#/session', code: 'no_dynamometer', message }])
}
