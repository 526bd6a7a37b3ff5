import { AppError } from '../../domain/errors.ts'
import { announce } from '../../store/announcement-store.ts'
import { lockSession, reviseSession, supersedeVersion } from '../../store/session-store.ts'
import { withClinic, type ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { perform, type Trace } from '../perform.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'
import { orNotFound } from '../shared/existing.ts'
import { requireVersion } from '../shared/versions.ts'
import { describeSession, type SessionDescription } from './describe-session.ts'
import { nameStoredRecordings } from './name-stored-recordings.ts'
import { prepare } from './prepare.ts'
import { resolvePlace } from './resolve-place.ts'
import { sessionContent } from './session-content.ts'
import { sessionHazards } from './session-hazards.ts'
import { writeContent } from './write-content.ts'

interface Amendment {
  readonly sessionId: string
  readonly ifMatch: string | undefined
  readonly bytes: Uint8Array
}

/**
 * A corrected document takes the place of the one in force, moved to another subject or side if that was the error; earlier
 * versions stay readable, with who, when and why. Existence and version are judged before the document is, and once more
 * in the transaction that writes, since the analysis between them takes its time.
 */
export async function amendSession(ctx: Context, input: Amendment): Promise<SessionDescription> {
  await withClinic(ctx.db, ctx.actor, (tx) => amendable(tx, input))
  const prepared = await prepare(ctx, input.bytes, { envelope: 'amendment' })
  return perform(ctx, 'sessions.amend', async (tx, trace) => {
    const current = await amendable(tx, input)
    trace.subject(current.subjectId)
    trace.resource('session', input.sessionId)
    nameStoredRecordings(trace, prepared)
    await writeAmendment(tx, ctx, prepared, input.sessionId, current, trace)
    return describeSession(tx, ctx, input.sessionId)
  })
}

type Locked = NonNullable<Awaited<ReturnType<typeof lockSession>>>

async function amendable(tx: ClinicTx, input: Amendment): Promise<Locked> {
  const current = orNotFound(await lockSession(tx, input.sessionId))
  requireVersion(input.ifMatch, current.version)
  if (current.status === 'entered_in_error') throw new AppError('withdrawn')
  return current
}

async function writeAmendment(
  tx: ClinicTx,
  ctx: Context,
  prepared: PreparedSession,
  sessionId: string,
  current: Locked,
  trace: Trace,
): Promise<void> {
  const { system, value } = prepared.document.externalId
  if (system !== current.extSystem || value !== current.extValue) {
    throw new AppError('invalid_document', {
      faults: [{ pointer: '#/session/externalId', code: 'not_editable', message: 'A session keeps its external id.' }],
    })
  }
  const place = await resolvePlace(tx, ctx, prepared.document, ['session'])
  trace.subject(place.subject.id)
  const version = {
    sessionId,
    version: current.version + 1,
    kind: 'amended',
    reason: prepared.amendmentReason,
  } as const
  if (version.reason !== null) trace.personal('reason', place.subject.id, version.reason)
  await supersedeVersion(tx, sessionId, ctx.now)
  const content = sessionContent(ctx, prepared, place, version)
  const hazards = await sessionHazards(tx, ctx, prepared, place, content)
  await reviseSession(tx, content.session)
  await writeContent(tx, { ...content, flags: [...content.flags, ...hazards] })
  await announce(tx, { kind: 'session_stored', id: sessionId, subjectId: place.subject.id })
}
