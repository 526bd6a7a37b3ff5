import { documentError } from '../../domain/errors.ts'
import { SESSION_LIMITS } from '../../domain/session-document.ts'
import { loadRecordings } from '../../store/recording-store.ts'
import { withClinic } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { PreparationOptions, PreparedSession } from '../prepare-session/prepared-session.ts'
import type { RecordingHeader, StoredRecording } from '../prepare-session/stored-recording.ts'
import { tooManySamples } from '../prepare-session/too-many-samples.ts'

type Options = Omit<PreparationOptions, 'now' | 'stored'>

/** Off the event loop; every fault of the document in one refusal. The way in for push, dry run and amendment. */
export async function prepare(ctx: Context, bytes: Uint8Array, options: Options = {}): Promise<PreparedSession> {
  const asked = { ...options, now: ctx.now }
  let preparation = await ctx.pool.prepare(bytes, asked)
  if (preparation.outcome === 'recordings_wanted') {
    const stored = await loadStored(ctx, preparation.sha256s, options)
    preparation = await ctx.pool.prepare(preparation.bytes, { ...asked, stored })
  }
  if (preparation.outcome === 'refused') throw documentError(preparation.faults)
  if (preparation.outcome === 'recordings_wanted') throw new RangeError('the recordings were given')
  return preparation.session
}

/**
 * Read before the transaction that writes, which analysis must not hold open. Nothing is looked at again there: the same
 * hash is the same bytes, and the write brings them along like samples that were sent.
 */
async function loadStored(
  ctx: Context,
  sha256s: readonly string[],
  { envelope }: Options,
): Promise<readonly StoredRecording[]> {
  const most = SESSION_LIMITS.samplesPerDocument
  const rows = await withClinic(ctx.db, ctx.actor, (tx) => loadRecordings(tx, sha256s, most))
  if (rows === null) throw documentError([tooManySamples(envelope === 'amendment' ? ['session'] : [])])
  return rows.map(({ sha256, header, bytes }) => ({ sha256, header: header as RecordingHeader, bytes }))
}
