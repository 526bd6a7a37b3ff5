import type { Trace } from '../perform.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'

/** A document that refers to a stored recording makes us read it, whoever's it is: the event says which one. */
export function nameStoredRecordings(trace: Trace, { document }: PreparedSession): void {
  for (const { recording } of document.sets) {
    if (recording?.storedSha256 !== undefined) trace.resource('recording', recording.storedSha256)
  }
}
