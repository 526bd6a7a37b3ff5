/** What comes out of a pushed session before any database is asked: the border between the worker and the use case. */
import type {
  Analysis,
  DirectionAnalysis,
  Finding,
  GravityModel,
  Measured,
  Protocol,
  Side,
} from '../../compute/index.ts'
import type { FieldFault } from '../../domain/errors.ts'
import type { RecordingDocument, SessionDocument, SetDocument, SetupDocument } from '../../domain/session-document.ts'
import type { RecordingHeader } from './stored-recording.ts'

export type Preparation =
  | { readonly outcome: 'prepared'; readonly session: PreparedSession }
  | { readonly outcome: 'refused'; readonly faults: readonly FieldFault[] }

export interface PreparedSession {
  /** Checked and typed; quantities carry their canonical value; samples are replaced by the hash of their recording. */
  readonly document: PreparedDocument
  /** The pushed words as they were parsed, for session_version.document; samples are replaced in the same way. */
  readonly pushed: Readonly<Record<string, unknown>>
  /** SHA-256 (hex) of the RFC 8785 form of the whole session document as pushed, samples included. */
  readonly documentHash: string
  /** The reason of an amendment; null for a session pushed on its own. */
  readonly amendmentReason: string | null
  /** Each distinct recording once. */
  readonly recordings: readonly PackedRecording[]
  /** In the order of document.setups. */
  readonly setups: readonly PreparedSetup[]
  /** In the order of document.sets. */
  readonly sets: readonly PreparedSet[]
}

export type PreparedDocument = Omit<SessionDocument, 'sets'> & { readonly sets: readonly PreparedSetDocument[] }
export type PreparedSetDocument = Omit<SetDocument, 'recording'> & { readonly recording?: RecordingReference }

/** A pushed recording without its samples. */
export type RecordingReference = Omit<RecordingDocument, 'channels' | 'csv'> & {
  readonly encoding: 'values' | 'f32leBase64' | 'csv' | 'mixed'
  /** Name and unit of each channel as they were sent. */
  readonly channels: readonly { readonly name: string; readonly unit: string }[]
  readonly sha256: string
  readonly sampleCount: number
}

export interface PackedRecording {
  /** Hex; of the header's canonical JSON, a line feed and the quantised samples before compression. */
  readonly sha256: string
  readonly header: RecordingHeader
  readonly bytes: Uint8Array
  readonly sampleCount: number
  /** Mean rate where the sampling is uneven (then header.sampleRateHz is null). */
  readonly sampleRateHz: number
  readonly durationS: number
}

export interface PreparedSetup {
  readonly key: string
  readonly side: Side
  readonly gravity: GravityModel | null
  readonly findings: SetupFindings
}

export type Verdict = 'yes' | 'no' | 'not_assessable'

export interface SetupFindings {
  /** Largest moment of limb, arm and attachment about the axis. */
  readonly gravityMomentNm: Measured
  readonly limbWeightPlausible: {
    readonly verdict: Verdict
    readonly reason: string | null
    readonly expectedNm: number | null
  }
  readonly axisOffset: AxisOffsetFinding
  readonly seatDepth: { readonly verdict: Verdict; readonly reason: string | null }
  readonly findings: readonly Finding[]
}

export interface AxisOffsetFinding {
  readonly forwardMm: number | null
  readonly upMm: number | null
  readonly halfWidthMm: number | null
  readonly confidence: number | null
  readonly verdict: string
  readonly reason: string | null
}

export type PreparedSet = {
  readonly key: string
  readonly setupKey: string
  readonly side: Side
  readonly protocol: Protocol
  readonly directions: readonly DirectionAnalysis[]
} & (
  | { readonly origin: 'computed'; readonly recordingSha256: string; readonly analysis: Analysis }
  | {
      readonly origin: 'reported'
      readonly recordingSha256: null
      readonly analysis: null
      readonly findings: readonly Finding[]
    }
)

export type { SetupDocument }
