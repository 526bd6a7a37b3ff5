/** What comes out of a pushed session before any database is asked: the border between the worker and the use case. */
import type { AxisMove, MisalignmentOverRange } from '../../compute/alignment/index.ts'
import type {
  Analysis,
  AnalysisParameters,
  DirectionAnalysis,
  Finding,
  GravityModel,
  Measured,
  Protocol,
  Side,
  YesNoUnknown,
} from '../../compute/index.ts'
import type { SessionEnvelope } from '../../domain/check-session.ts'
import type { FieldFault } from '../../domain/errors.ts'
import type { RecordingDocument, SessionDocument, SetDocument } from '../../domain/session-document.ts'
import type { RecordingHeader, StoredRecording } from './stored-recording.ts'

export interface PreparationOptions {
  /** Default: a session on its own. */
  readonly envelope?: SessionEnvelope
  /** Default: DEFAULT_PARAMETERS of the compute core. */
  readonly parameters?: AnalysisParameters
  /** The service's clock: a visit from the future is a fault. Absent: times are not held against a clock. */
  readonly now?: Date
  /** Those recordings the document refers to that are known. Absent: it is answered first which ones it refers to. */
  readonly stored?: readonly StoredRecording[]
}

export type Preparation =
  | { readonly outcome: 'prepared'; readonly session: PreparedSession }
  | { readonly outcome: 'refused'; readonly faults: readonly FieldFault[] }
  | RecordingsWanted

/** A document without a fault in its shape refers to stored recordings: to be prepared again together with them. */
export interface RecordingsWanted {
  readonly outcome: 'recordings_wanted'
  /** Each once. */
  readonly sha256s: readonly string[]
  /** The document, given back. */
  readonly bytes: Uint8Array
}

export interface PreparedSession {
  /** Checked and typed; quantities carry their canonical value; samples are replaced by the hash of their recording. */
  readonly document: PreparedDocument
  /** The pushed words as they were parsed, for storing; samples are replaced in the same way. */
  readonly pushed: Readonly<Record<string, unknown>>
  /** SHA-256 (hex) of the RFC 8785 form of the whole session document as pushed, samples included. */
  readonly documentHash: string
  /** The reason of an amendment; null for a session pushed on its own. */
  readonly amendmentReason: string | null
  /** Each distinct recording once. */
  readonly recordings: readonly PackedRecording[]
  /** In the order of document.setups. */
  readonly setups: readonly PreparedSetup[]
  /** In the order of document.sets; none where the document refers to a recording that is not known. */
  readonly sets: readonly PreparedSet[]
}

export interface PreparedDocument extends Omit<SessionDocument, 'sets'> {
  readonly sets: readonly PreparedSetDocument[]
  /** Places of the sets that refer to a stored recording nobody here knows: a reference to nothing, like any other. */
  readonly unknownRecordings: readonly number[]
}
export type PreparedSetDocument = Omit<SetDocument, 'recording'> & { readonly recording?: RecordingReference }

/** A pushed recording without its samples. */
export type RecordingReference = Omit<RecordingDocument, 'channels' | 'csv'> & SampleReference

export interface SampleReference {
  /** stored: the document referred to a recording that was here already. */
  readonly encoding: 'values' | 'f32leBase64' | 'csv' | 'mixed' | 'stored'
  /** Name and unit of each channel as they were sent, or as they are stored. */
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
  /** Largest gravity moment of limb, arm and attachment about the axis. */
  readonly gravityMomentNm: Measured
  readonly limbWeightPlausible: Judged
  /** Against the same joint of the other side in this document. */
  readonly weighingsAgree: Judged
  readonly axisOffset: AxisOffset
  /** Room between calf and seat for the planned flexion; a rule of thumb. */
  readonly seatDepthSufficient: Judged
  readonly findings: readonly Finding[]
}

export interface Judged {
  readonly verdict: YesNoUnknown
  readonly reason: string | null
}

/** Of the joint's axis from the machine's; numbers are null where the verdict rests on none. */
export interface AxisOffset {
  readonly verdict: 'within_tolerance' | 'beyond_tolerance' | 'cannot_tell' | 'not_assessable'
  readonly reason: string | null
  readonly forwardMm: number | null
  readonly upMm: number | null
  readonly halfWidthMm: number | null
  readonly confidence: number | null
  readonly move: readonly AxisMove[] | null
  /** What the offset does to torque and angle from stop to stop; null where the distance of the pad is not known. */
  readonly errors: MisalignmentOverRange | null
}

export type PreparedSet = {
  readonly key: string
  readonly setupKey: string
  readonly side: Side
  readonly protocol: Protocol
  /** Everything said about the set as a whole, those of the analysis included. */
  readonly findings: readonly Finding[]
} & (
  | {
      readonly origin: 'computed'
      readonly recordingSha256: string
      readonly gravity: GravityModel | null
      readonly analysis: Analysis
      readonly directions: readonly DirectionAnalysis[]
    }
  | {
      readonly origin: 'reported'
      readonly recordingSha256: null
      readonly gravityCorrected: YesNoUnknown
      readonly analysis: null
      readonly directions: readonly ReportedDirection[]
    }
)

/** As an analysis says it, but nobody told us how many repetitions are behind the values. */
export type ReportedDirection = Omit<DirectionAnalysis, 'counted'> & { readonly counted: null }
