/**
 * The bytes of a push to everything that can be known without a database: parse, check, decode, quantise, pack, analyse.
 * Pure CPU work, made to run in a worker thread. A fault in the document is an answer, not an exception.
 */
import { DEFAULT_PARAMETERS } from '../../compute/index.ts'
import type { AnalysisParameters } from '../../compute/index.ts'
import { canonicalSha256 } from '../../domain/canonical-json.ts'
import { checkSession, sessionOf } from '../../domain/check-session.ts'
import type { CheckedSession } from '../../domain/check-session.ts'
import type { FieldFault } from '../../domain/errors.ts'
import { MAX_FAULTS } from '../../domain/errors.ts'
import { jsonPointer, valueAt } from '../../domain/json-pointer.ts'
import type { JsonPath } from '../../domain/json-pointer.ts'
import { isSampleArray, recordingDocument, SESSION_LIMITS } from '../../domain/session-document.ts'
import type { RecordingDocument, SessionDocument, SetDocument } from '../../domain/session-document.ts'
import { DEFAULT_JSON_LIMITS, parseStrictJson } from '../../domain/strict-json.ts'
import { decodeRecording } from './decode-recording.ts'
import type { DecodedRecording } from './decode-recording.ts'
import { decodeStored } from './decode-stored.ts'
import type {
  PackedRecording,
  Preparation,
  PreparationOptions,
  PreparedSet,
  PreparedSetDocument,
  SampleReference,
} from './prepared-session.ts'
import { reanalyse } from './reanalyse.ts'
import { gravityCorrectedOf, reportedDirections, reportedFindings } from './reported-results.ts'
import { setProtocol } from './set-protocol.ts'
import { describeSetups, gravityModelFor } from './setup-findings.ts'
import { packRecording } from './stored-recording.ts'
import type { StoredRecording } from './stored-recording.ts'
import { tooManySamples } from './too-many-samples.ts'

export function prepareSession(bytes: Uint8Array, options: PreparationOptions = {}): Preparation {
  const { envelope = 'session', parameters = DEFAULT_PARAMETERS, now, stored } = options
  const parsed = parseStrictJson(bytes, { ...DEFAULT_JSON_LIMITS, isSampleArray })
  if (!parsed.ok) return { outcome: 'refused', faults: parsed.faults }

  const at: JsonPath = envelope === 'amendment' ? ['session'] : []
  const pushed = envelope === 'amendment' ? sessionOf(parsed.value) : parsed.value
  const checked = checkSession(parsed.value, envelope, now)
  const sha256s = checked.ok && stored === undefined ? referredRecordings(checked.session) : []
  if (sha256s.length > 0) return { outcome: 'recordings_wanted', sha256s, bytes }
  const decoded = decodeRecordings(pushed, checked, stored ?? [], at)
  if (!checked.ok || decoded.faults.length > 0) {
    return refuse([...(checked.ok ? [] : checked.faults), ...decoded.faults])
  }

  const { session } = checked
  const packed = session.sets.map((set, index) => pack(set, decoded.recordings.get(index)))
  const { unknown } = decoded
  const sets =
    unknown.length > 0
      ? []
      : session.sets.map((set, index) => prepareSet(set, packed[index] ?? null, session, parameters))
  const noteFaults = session.sets.flatMap((set, index) => unfoundRepetitions(set, sets[index], [...at, 'sets', index]))
  if (noteFaults.length > 0) return refuse(noteFaults)

  const references = packed.map((recording) => recording?.reference ?? null)
  return {
    outcome: 'prepared',
    session: {
      document: {
        ...session,
        sets: session.sets.map((set, index) => withoutSamples(set, references[index] ?? null)),
        unknownRecordings: unknown,
      },
      pushed: withoutSamplesAsPushed(pushed as Readonly<Record<string, unknown>>, references),
      documentHash: canonicalSha256(pushed),
      amendmentReason: checked.amendmentReason,
      recordings: distinct(packed.flatMap((recording) => recording?.stored ?? [])),
      setups: describeSetups(session, null),
      sets: markRepeatedRecordings(sets),
    },
  }
}

function refuse(faults: readonly FieldFault[]): Preparation {
  return { outcome: 'refused', faults: faults.slice(0, MAX_FAULTS) }
}

/** Hashes of the stored recordings that a document refers to, each once. */
function referredRecordings(session: SessionDocument): readonly string[] {
  return [...new Set(session.sets.flatMap(({ recording }) => recording?.storedSha256 ?? []))]
}

interface DecodedRecordings {
  /** By index of the set. */
  readonly recordings: ReadonlyMap<number, DecodedRecording>
  /** Indices of the sets that refer to a recording which is not among the stored ones. */
  readonly unknown: readonly number[]
  readonly faults: readonly FieldFault[]
}

/** A document with a fault elsewhere is decoded too, so that what is wrong inside its recordings is said in the same answer. */
function decodeRecordings(
  pushed: unknown,
  checked: CheckedSession,
  stored: readonly StoredRecording[],
  at: JsonPath,
): DecodedRecordings {
  const session = checked.ok ? checked.session : null
  const known = checked.ok ? [] : checked.faults
  const storedBySha256 = new Map(stored.map((recording) => [recording.sha256, recording]))
  const recordings = new Map<number, DecodedRecording>()
  const unknown: number[] = []
  const faults: FieldFault[] = []
  let samples = 0
  const sets = valueAt(pushed, ['sets'])
  for (let index = 0; Array.isArray(sets) && index < sets.length; index++) {
    const path = [...at, 'sets', index, 'recording']
    const pointer = jsonPointer(path)
    if (known.some((fault) => fault.pointer === pointer || fault.pointer.startsWith(`${pointer}/`))) continue
    const recording =
      session === null ? shapeOf(valueAt(sets[index], ['recording'])) : (session.sets[index]?.recording ?? null)
    if (recording === null) continue
    const { storedSha256 } = recording
    const here = storedSha256 === undefined ? undefined : storedBySha256.get(storedSha256)
    if (storedSha256 !== undefined && here === undefined) {
      unknown.push(index)
      continue
    }
    const decoded =
      here === undefined ? decodeRecording(recording, path) : { ok: true as const, value: decodeStored(here) }
    if (!decoded.ok) {
      faults.push(decoded.fault)
      continue
    }
    recordings.set(index, decoded.value)
    samples += decoded.value.samples.torqueNm.length * decoded.value.channels.length
    if (samples > SESSION_LIMITS.samplesPerDocument) {
      faults.push(tooManySamples(at))
      break
    }
  }
  return { recordings, unknown, faults }
}

function shapeOf(recording: unknown): RecordingDocument | null {
  const parsed = recordingDocument.safeParse(recording)
  return parsed.success ? parsed.data : null
}

interface Packed {
  readonly stored: PackedRecording
  readonly reference: SampleReference
}

function pack(set: SetDocument, decoded: DecodedRecording | undefined): Packed | null {
  const { recording } = set
  if (recording === undefined || decoded === undefined) return null
  const { samples, encoding, channels } = decoded
  const stored = packRecording(samples, {
    torquePositive: recording.torquePositive,
    anglePositive: recording.anglePositive,
    readingAtAnatomicalZeroDeg: recording.readingAtAnatomicalZero.canonicalValue,
    torqueState: recording.torqueState,
    deviceFilter: recording.deviceFilter,
    deviceWindowing: recording.deviceWindowing,
  })
  const { sampleCount } = stored.header
  const durationS = (samples.timeUs?.at(-1) ?? 0) / 1e6 || (sampleCount - 1) / (samples.sampleRateHz ?? NaN)
  const sampleRateHz = samples.sampleRateHz ?? (sampleCount - 1) / durationS
  return {
    stored: { ...stored, sampleCount, sampleRateHz, durationS },
    reference: { encoding, channels, sha256: stored.sha256, sampleCount },
  }
}

function prepareSet(
  set: SetDocument,
  packed: Packed | null,
  session: SessionDocument,
  parameters: AnalysisParameters,
): PreparedSet {
  const setup = session.setups.find(({ key }) => key === set.setup)
  if (setup === undefined) throw new RangeError('the rules let a set without a setup through')
  const gravity = gravityModelFor(setup, set.directions[0]?.movement ?? null).model
  const protocol = setProtocol(set, setup, session, gravity, parameters)
  const common = { key: set.key, setupKey: setup.key, side: setup.side, protocol }
  if (packed !== null) {
    // From the stored bytes, so that reading them back gives the same numbers to the last bit
    const { bytes, header, sha256 } = packed.stored
    const analysis = reanalyse(bytes, header, protocol)
    const { directions, findings } = analysis
    return { ...common, origin: 'computed', recordingSha256: sha256, gravity, analysis, directions, findings }
  }
  const { reported } = set
  if (reported === undefined) throw new RangeError('the rules let a set without content through')
  return {
    ...common,
    origin: 'reported',
    recordingSha256: null,
    gravityCorrected: gravityCorrectedOf(reported),
    analysis: null,
    directions: reportedDirections(reported, protocol.directions, set.repetitionNotes ?? [], protocol.bodyMassKg),
    findings: reportedFindings(reported, protocol.directions),
  }
}

/** A note about a repetition that is neither in the recording nor was meant to be: a slip of the pen that would be lost. */
function unfoundRepetitions(
  set: SetDocument,
  prepared: PreparedSet | undefined,
  path: JsonPath,
): readonly FieldFault[] {
  if (prepared?.origin !== 'computed') return []
  const found = Math.max(...prepared.directions.map(({ repetitions }) => repetitions.length))
  const last = Math.max(found, set.intendedRepetitions ?? 0)
  return (set.repetitionNotes ?? []).flatMap(({ repetition }, index) =>
    repetition <= last
      ? []
      : {
          pointer: jsonPointer([...path, 'repetitionNotes', index, 'repetition']),
          code: 'out_of_range',
          message: `The set has ${last} repetitions.`,
        },
  )
}

/** The very same samples under two sets: one of them is a recording filed twice. */
function markRepeatedRecordings(sets: readonly PreparedSet[]): readonly PreparedSet[] {
  return sets.map((set) => {
    const twins = sets.filter((other) => other !== set && other.recordingSha256 === set.recordingSha256)
    if (set.recordingSha256 === null || twins.length === 0) return set
    const detail = `The same recording is also that of ${twins.map(({ key }) => `set ${key}`).join(', ')}.`
    return { ...set, findings: [...set.findings, { code: 'recording_repeated', level: 'hold', detail }] }
  })
}

function withoutSamples(set: SetDocument, reference: SampleReference | null): PreparedSetDocument {
  const { recording, ...rest } = set
  if (recording === undefined || reference === null) return rest
  const { channels: _channels, csv: _csv, ...meaning } = recording
  return { ...rest, recording: { ...meaning, ...reference } }
}

function withoutSamplesAsPushed(
  pushed: Readonly<Record<string, unknown>>,
  references: readonly (SampleReference | null)[],
): Readonly<Record<string, unknown>> {
  const { sets } = pushed
  if (!Array.isArray(sets)) return pushed
  const words = (sets as readonly Readonly<Record<string, unknown>>[]).map((set, index) => {
    const reference = references[index] ?? null
    if (reference === null) return set
    const { channels: _channels, csv: _csv, ...meaning } = set['recording'] as Readonly<Record<string, unknown>>
    return { ...set, recording: { ...meaning, ...reference } }
  })
  return { ...pushed, sets: words }
}

function distinct(recordings: readonly PackedRecording[]): readonly PackedRecording[] {
  return [...new Map(recordings.map((recording) => [recording.sha256, recording])).values()]
}
