import { loadRecording } from '../../store/recording-store.ts'
import { loadSession, loadTestSets } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import type { RecordingHeader } from '../prepare-session/stored-recording.ts'
import { orNotFound } from '../shared/existing.ts'

export interface RecordingText {
  readonly sha256: string
  readonly text: Uint8Array
}

/** What was analysed, byte for byte held against its hash; of the session in force or of a version. Printed in a worker. */
export async function readRecording(
  ctx: Context,
  input: { sessionId: string; setKey: string; version: number | null; form: 'json' | 'csv' },
): Promise<RecordingText> {
  const task = await perform(ctx, 'recordings.read', async (tx, trace) => {
    const session = orNotFound(await loadSession(tx, input.sessionId, input.version))
    trace.subject(session.subjectId)
    trace.resource('session', input.sessionId)
    const sets = await loadTestSets(tx, input.sessionId, session.version)
    const set = orNotFound(sets.find(({ key }) => key === input.setKey))
    // A set with reported values has no recording: nothing here either.
    const sha = new Uint8Array(orNotFound(set.recordingSha))
    const { bytes, header } = orNotFound(await loadRecording(tx, sha))
    const sha256 = Buffer.from(sha).toString('hex')
    trace.resource('recording', sha256)
    const about = { sessionId: input.sessionId, version: session.version, set: set.key, side: set.side }
    return { bytes, header: header as RecordingHeader, sha256, form: input.form, about }
  })
  return { sha256: task.sha256, text: await ctx.pool.print(task) }
}
