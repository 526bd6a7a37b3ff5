/** A stored recording as text that people and programs read: JSON with a list for each channel, or CSV. Runs in a worker. */
import { canonicalUnitOf } from '../../compute/index.ts'
import { CHANNEL_KINDS } from '../../domain/session-document.ts'
import { unpackRecording, type QuantisedSamples, type RecordingHeader, type StoredChannel } from './stored-recording.ts'

export interface PrintTask {
  readonly bytes: Uint8Array
  readonly header: RecordingHeader
  readonly sha256: string
  readonly form: 'json' | 'csv'
  /** JSON only: members that stand before those of the recording. */
  readonly about: Readonly<Record<string, unknown>>
}

interface Column {
  readonly name: StoredChannel
  readonly unit: string
  readonly length: number
  readonly at: (sample: number) => number
}

/** Throws CorruptRecording where the bytes are not those that were hashed. */
export function printRecording(task: PrintTask): Uint8Array<ArrayBuffer> {
  const samples = unpackRecording(task.bytes, task.header, task.sha256)
  return new TextEncoder().encode(task.form === 'csv' ? csvOf(samples) : jsonOf(task, samples))
}

/** Sample rate and channels can be pushed again as they stand here: the recording then has the same hash. */
function jsonOf({ about, sha256, header }: PrintTask, samples: QuantisedSamples): string {
  const { sampleRateHz, timeUs } = samples
  return JSON.stringify({
    ...about,
    sha256,
    header,
    sampleRate: sampleRateHz === null ? null : { value: sampleRateHz, unit: 'Hz' },
    channels: columnsOf(samples)
      .filter(({ name }) => name !== 'time' || timeUs !== null)
      .map(({ name, unit, length, at }) => ({ name, unit, values: Array.from({ length }, (_, i) => at(i)) })),
  })
}

/** Always with a time column. Every cell is a number, so there is nothing a spreadsheet could take for a formula. */
function csvOf(samples: QuantisedSamples): string {
  const columns = columnsOf(samples)
  const lines = [columns.map(({ name, unit }) => `${name} (${unit})`).join(',')]
  for (let i = 0; i < samples.torqueNm.length; i++) lines.push(columns.map(({ at }) => String(at(i))).join(','))
  return `${lines.join('\n')}\n`
}

function columnsOf({ timeUs, sampleRateHz, torqueNm, angleDeg, velocityDegS }: QuantisedSamples): Column[] {
  const column = (name: StoredChannel, at: Column['at']): Column => ({
    name,
    unit: canonicalUnitOf(CHANNEL_KINDS[name]),
    length: torqueNm.length,
    at,
  })
  const floats = (name: StoredChannel, values: Float32Array) => column(name, (i) => shortest(values[i] ?? NaN))
  return [
    column('time', (i) => (timeUs === null ? i / (sampleRateHz ?? NaN) : (timeUs[i] ?? NaN) / 1e6)),
    floats('torque', torqueNm),
    floats('angle', angleDeg),
    ...(velocityDegS === null ? [] : [floats('velocity', velocityDegS)]),
  ]
}

/** The number with the fewest digits that is stored as this float32: 182.4, not 182.39999389648438. */
function shortest(stored: number): number {
  for (let digits = 6; digits < 9; digits++) {
    const short = Number(stored.toPrecision(digits))
    if (Math.fround(short) === stored) return short
  }
  return Number(stored.toPrecision(9))
}
