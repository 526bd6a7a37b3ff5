/**
 * The stored form of a recording, and the only form that is analysed.
 *
 * Samples: 32-bit words, little-endian, one channel after the other: [time as int32 microseconds, only where the sampling is
 * uneven], torque N.m, angle deg, [velocity deg/s] as float32. float32 keeps 7 digits: at 300 N.m a step of 0.00003 N.m, three
 * orders below the noise of a dynamometer, in half the room of float64. Microseconds, because float32 seconds would lose 0.06 ms
 * after ten minutes. Bytes: the words' first bytes, then their second bytes ... (byte shuffle: neighbouring samples share their
 * high bytes, so that they compress), then zstd level 3.
 * Hash: SHA-256 of the canonical header, a line feed and the words before shuffling, so that it does not hang on the compressor.
 * Signs stay as the device sent them; the header says what they mean, hence it is under the hash.
 */
import { createHash } from 'node:crypto'
import { endianness } from 'node:os'
import { constants, zstdCompressSync, zstdDecompressSync } from 'node:zlib'
import type { DeviceProcessing, Movement, Recording, TorqueState } from '../../compute/index.ts'
import { canonicalJson } from '../../domain/canonical-json.ts'
import { SESSION_LIMITS } from '../../domain/session-document.ts'

export type StoredChannel = 'time' | 'torque' | 'angle' | 'velocity'

export interface RecordingHeader {
  readonly format: 'float32_shuffled_zstd_1'
  readonly channels: readonly StoredChannel[]
  readonly sampleCount: number
  /** null: uneven, and the first channel is time. */
  readonly sampleRateHz: number | null
  readonly torquePositive: Movement | 'unsigned'
  readonly anglePositive: Movement
  readonly readingAtAnatomicalZeroDeg: number
  readonly torqueState: TorqueState
  readonly deviceFilter: DeviceProcessing
  readonly deviceWindowing: DeviceProcessing
}

/** What the samples mean: the header without what follows from the samples themselves. */
export type RecordingMeaning = Omit<RecordingHeader, 'format' | 'channels' | 'sampleCount' | 'sampleRateHz'>

export interface QuantisedSamples {
  /** null: even, at sampleRateHz. */
  readonly timeUs: Int32Array | null
  readonly sampleRateHz: number | null
  readonly torqueNm: Float32Array
  readonly angleDeg: Float32Array
  readonly velocityDegS: Float32Array | null
}

export interface StoredRecording {
  readonly sha256: string
  readonly header: RecordingHeader
  readonly bytes: Uint8Array
}

/** Stored bytes that are not what was stored: never the sender's fault. */
export class CorruptRecording extends Error {}

const WORD = 4

export function packRecording(samples: QuantisedSamples, meaning: RecordingMeaning): StoredRecording {
  const columns = (
    [
      ['time', samples.timeUs],
      ['torque', samples.torqueNm],
      ['angle', samples.angleDeg],
      ['velocity', samples.velocityDegS],
    ] as const
  ).flatMap(([name, column]) => (column === null ? [] : [{ name, column }]))
  const sampleCount = samples.torqueNm.length
  if (columns.some(({ column }) => column.length !== sampleCount)) {
    throw new RangeError('all channels must have the same number of samples')
  }
  const header: RecordingHeader = {
    format: 'float32_shuffled_zstd_1',
    channels: columns.map(({ name }) => name),
    sampleCount,
    sampleRateHz: samples.sampleRateHz,
    ...meaning,
  }
  const words = new Int32Array(columns.length * sampleCount)
  columns.forEach(({ column }, place) => words.set(bitsOf(column), place * sampleCount))
  const bytes = zstdCompressSync(shuffle(words), { params: { [constants.ZSTD_c_compressionLevel]: 3 } })
  return { sha256: hashOf(header, words), header, bytes: ownedBytes(bytes) }
}

/** Bytes and header of one stored recording to samples; with `sha256` they are held against what was hashed at the time. */
export function unpackRecording(bytes: Uint8Array, header: RecordingHeader, sha256?: string): QuantisedSamples {
  const { sampleCount, channels, sampleRateHz } = header
  if (!(Number.isSafeInteger(sampleCount) && sampleCount >= 0 && sampleCount <= MOST_SAMPLES && channels.length <= 4)) {
    throw new CorruptRecording('the header does not describe a recording')
  }
  const words = unshuffle(decompress(bytes, sampleCount * channels.length * WORD))
  if (sha256 !== undefined && hashOf(header, words) !== sha256) {
    throw new CorruptRecording('the bytes do not match their hash')
  }
  const column = (name: StoredChannel): Int32Array | null => {
    const place = channels.indexOf(name)
    return place === -1 ? null : words.slice(place * sampleCount, (place + 1) * sampleCount)
  }
  const timeUs = column('time')
  const torqueNm = floatsOf(column('torque'))
  const angleDeg = floatsOf(column('angle'))
  if (torqueNm === null || angleDeg === null || (timeUs === null) !== (sampleRateHz !== null)) {
    throw new CorruptRecording('the header does not describe a recording')
  }
  return { timeUs, sampleRateHz, torqueNm, angleDeg, velocityDegS: floatsOf(column('velocity')) }
}

/** Ten minutes at the highest rate: a header that claims more is not ours. */
const MOST_SAMPLES = SESSION_LIMITS.recordingSeconds * SESSION_LIMITS.maxSampleRateHz + 1

/** The recording as the compute core reads it. */
export function toRecording(samples: QuantisedSamples, meaning: RecordingMeaning): Recording {
  const { timeUs, sampleRateHz, velocityDegS } = samples
  const timeS = new Float64Array(samples.torqueNm.length)
  for (let i = 0; i < timeS.length; i++) {
    timeS[i] = timeUs === null ? i / (sampleRateHz ?? NaN) : (timeUs[i] ?? NaN) / 1e6
  }
  return {
    timeS,
    torqueNm: Float64Array.from(samples.torqueNm),
    angleDeg: Float64Array.from(samples.angleDeg),
    velocityDegS: velocityDegS === null ? null : Float64Array.from(velocityDegS),
    torquePositive: meaning.torquePositive,
    anglePositive: meaning.anglePositive,
    readingAtAnatomicalZeroDeg: meaning.readingAtAnatomicalZeroDeg,
    torqueState: meaning.torqueState,
    deviceFilter: meaning.deviceFilter,
    deviceWindowing: meaning.deviceWindowing,
  }
}

function hashOf(header: RecordingHeader, words: Int32Array): string {
  return createHash('sha256').update(canonicalJson(header)).update('\n').update(littleEndian(words)).digest('hex')
}

function bitsOf(column: Float32Array | Int32Array): Int32Array {
  return new Int32Array(column.buffer, column.byteOffset, column.length)
}

function floatsOf(words: Int32Array | null): Float32Array | null {
  return words === null ? null : new Float32Array(words.buffer, words.byteOffset, words.length)
}

function littleEndian(words: Int32Array): Uint8Array {
  const native = new Uint8Array(words.buffer, words.byteOffset, words.byteLength)
  return endianness() === 'LE' ? native : Buffer.from(native).swap32()
}

function decompress(bytes: Uint8Array, size: number): Uint8Array {
  let plain: Uint8Array
  try {
    // Bounded by the header, so that a few bytes cannot unfold into gigabytes
    plain = zstdDecompressSync(bytes, { maxOutputLength: Math.max(size, 1) })
  } catch (error) {
    throw new CorruptRecording('the bytes cannot be decompressed', { cause: error })
  }
  if (plain.byteLength !== size) throw new CorruptRecording('the bytes have another length than the header says')
  return plain
}

/** Works on the words as numbers, so that it gives the same bytes whatever the machine's byte order. */
function shuffle(words: Int32Array): Uint8Array {
  const count = words.length
  const shuffled = new Uint8Array(count * WORD)
  for (let i = 0; i < count; i++) {
    const word = words[i]!
    shuffled[i] = word
    shuffled[count + i] = word >>> 8
    shuffled[2 * count + i] = word >>> 16
    shuffled[3 * count + i] = word >>> 24
  }
  return shuffled
}

function unshuffle(shuffled: Uint8Array): Int32Array {
  const count = shuffled.length / WORD
  const words = new Int32Array(count)
  for (let i = 0; i < count; i++) {
    words[i] =
      shuffled[i]! | (shuffled[count + i]! << 8) | (shuffled[2 * count + i]! << 16) | (shuffled[3 * count + i]! << 24)
  }
  return words
}

/** A copy with a buffer of its own, so that it can be handed to another thread whole. */
function ownedBytes(bytes: Uint8Array): Uint8Array {
  return bytes.byteLength === bytes.buffer.byteLength
    ? new Uint8Array(bytes.buffer as ArrayBuffer)
    : Uint8Array.from(bytes)
}
