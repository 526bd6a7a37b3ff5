/** A stored set with all that its analysis is made from: nothing of it comes from the analysis that is there. */
import type { AnalysisParameters, GravityModel, Protocol } from '../../compute/index.ts'
import { setDocument, setupDocument } from '../../domain/session-document.ts'
import { loadRecording } from '../../store/recording-store.ts'
import { loadResultsOfSessions, type JudgedResultRow } from '../../store/result-store.ts'
import { loadSession, loadSetups, loadTestSets } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import { setProtocol } from '../prepare-session/set-protocol.ts'
import { gravityModelFor } from '../prepare-session/setup-findings.ts'
import type { RecordingHeader } from '../prepare-session/stored-recording.ts'

export interface AnalysedSet {
  readonly setId: string
  readonly ordinal: number
  readonly recordingSha256: string
  readonly bytes: Uint8Array
  readonly header: RecordingHeader
  readonly gravity: GravityModel | null
  /** With other choices than those it was made with, and with the limb's weight left in where that is asked. */
  readonly protocol: (parameters: AnalysisParameters, gravity: GravityModel | null) => Protocol
  /** Of the analysis in force. */
  readonly results: readonly JudgedResultRow[]
}

/** null: the set has no recording. */
export async function loadAnalysedSet(
  tx: ClinicTx,
  place: { readonly sessionId: string; readonly sessionVersion: number; readonly setId: string },
): Promise<AnalysedSet | null> {
  const session = await loadSession(tx, place.sessionId, place.sessionVersion)
  const set = (await loadTestSets(tx, place.sessionId, place.sessionVersion)).find(({ id }) => id === place.setId)
  if (session === null || set === undefined || set.recordingSha === null) return null
  const setup = (await loadSetups(tx, [place])).find(({ id }) => id === set.setupId)
  const sha = new Uint8Array(set.recordingSha)
  const recording = await loadRecording(tx, sha)
  if (setup === undefined || recording === null) throw new RangeError(`set ${set.id} without its setup or recording`)
  const results = await loadResultsOfSessions(tx, [place])
  const { sets = [] } = session.document as { sets?: readonly { key: string }[] }
  const { recording: _samples, reported: _reported, ...words } = (sets.find(({ key }) => key === set.key) ?? {}) as Record<string, unknown> // prettier-ignore
  const spoken = { set: setDocument.parse(words), setup: setupDocument.parse(setup.document) }
  const bodyMass = session.bodyMassKg === null ? {} : { bodyMass: kilograms(session.bodyMassKg) }
  return {
    setId: set.id,
    ordinal: set.ordinal,
    recordingSha256: Buffer.from(sha).toString('hex'),
    bytes: recording.bytes,
    header: recording.header as RecordingHeader,
    gravity: gravityModelFor(spoken.setup, spoken.set.directions[0]?.movement ?? null).model,
    protocol: (parameters, gravity) => setProtocol(spoken.set, spoken.setup, bodyMass, gravity, parameters),
    results: results.filter((row) => row.setId === set.id && row.isCurrent),
  }
}

const kilograms = (value: number) => ({ value, unit: 'kg', canonicalValue: value, canonicalUnit: 'kg' })
