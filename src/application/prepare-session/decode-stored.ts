import { canonicalUnitOf } from '../../compute/index.ts'
import { CHANNEL_KINDS } from '../../domain/session-document.ts'
import type { DecodedRecording } from './decode-recording.ts'
import { unpackRecording, type StoredRecording } from './stored-recording.ts'

/** The samples of a recording that is here already, without what they were said to mean when it was stored. */
export function decodeStored({ bytes, header, sha256 }: StoredRecording): DecodedRecording {
  return {
    samples: unpackRecording(bytes, header, sha256),
    encoding: 'stored',
    channels: header.channels.map((name) => ({ name, unit: canonicalUnitOf(CHANNEL_KINDS[name]) })),
  }
}
