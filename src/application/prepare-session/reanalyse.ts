import { analyseRecording } from '../../compute/index.ts'
import type { Analysis, Protocol } from '../../compute/index.ts'
import { toRecording, unpackRecording } from './stored-recording.ts'
import type { RecordingHeader } from './stored-recording.ts'

/** A stored recording analysed again, from its bytes. With `sha256` the bytes are first held against their hash. */
export function reanalyse(bytes: Uint8Array, header: RecordingHeader, protocol: Protocol, sha256?: string): Analysis {
  return analyseRecording(toRecording(unpackRecording(bytes, header, sha256), header), protocol)
}
