/** A pushed recording in any of its encodings to quantised samples in canonical units, or what is wrong with it and where. */
import { canonicalUnitOf, convert } from '../../compute/index.ts'
import type { JsonPath } from '../../domain/json-pointer.ts'
import { CHANNEL_KINDS, SESSION_LIMITS } from '../../domain/session-document.ts'
import type { ChannelName, RecordingDocument } from '../../domain/session-document.ts'
import { decodeBase64Float32 } from './decode-base64-float32.ts'
import { decodeCsv } from './decode-csv.ts'
import { refused, unreadable } from './sent-channel.ts'
import type { Decoded, SentChannel } from './sent-channel.ts'
import type { QuantisedSamples } from './stored-recording.ts'

export interface DecodedRecording {
  readonly samples: QuantisedSamples
  readonly encoding: 'values' | 'f32leBase64' | 'csv' | 'mixed' | 'stored'
  readonly channels: readonly { readonly name: string; readonly unit: string }[]
}

/** Largest magnitude a sample may have, canonical units: far beyond any limb, and float32 stays finite. */
const LARGEST: Readonly<Record<Exclude<ChannelName, 'time'>, number>> = { torque: 3000, angle: 720, velocity: 2000 }

/** Uneven by less than this part of a sampling interval counts as even. */
const EVEN_WITHIN = 0.01

/** Seven steps of 0.02 s are 0.14000000000000001 s: a rate worked out from times may miss the limit it stands on by that. */
const RATE_NOISE = 1 + 1e-9

/** `recording` has passed the checks of shape and rules; `path` is where it stands in the document. */
export function decodeRecording(recording: RecordingDocument, path: JsonPath): Decoded<DecodedRecording> {
  const sent =
    recording.csv === undefined ? decodeChannels(recording, path) : decodeCsv(recording.csv, [...path, 'csv'])
  if (!sent.ok) return sent
  const channels = sent.value
  const samples = quantise(channels, recording, path)
  if (!samples.ok) return samples
  const encodings = new Set((recording.channels ?? []).map((each) => (each.values ? 'values' : 'f32leBase64')))
  const [only = 'csv'] = encodings
  return {
    ok: true,
    value: {
      samples: samples.value,
      encoding: encodings.size > 1 ? 'mixed' : only,
      channels: channels.map(({ name, unit }) => ({ name, unit })),
    },
  }
}

function decodeChannels(recording: RecordingDocument, path: JsonPath): Decoded<readonly SentChannel[]> {
  const decoded: SentChannel[] = []
  for (const [index, { name, unit, values, f32leBase64 }] of (recording.channels ?? []).entries()) {
    const at = [...path, 'channels', index]
    if (values !== undefined) {
      const field = [...at, 'values']
      decoded.push({ name, unit, values, field, locate: (sample) => ({ path: [...field, sample], where: '' }) })
      continue
    }
    const field = [...at, 'f32leBase64']
    const floats = decodeBase64Float32(f32leBase64 ?? '')
    if (floats === null) return unreadable(field, 'This is not Base64 of little-endian 32-bit floats.')
    decoded.push({
      name,
      unit,
      values: floats,
      field,
      locate: (sample) => ({ path: field, where: `Sample ${sample + 1}: ` }),
    })
  }
  return { ok: true, value: decoded }
}

function quantise(
  channels: readonly SentChannel[],
  recording: RecordingDocument,
  path: JsonPath,
): Decoded<QuantisedSamples> {
  const byName = new Map(channels.map((channel) => [channel.name, channel]))
  const torque = byName.get('torque')
  const angle = byName.get('angle')
  const field = [...path, recording.csv === undefined ? 'channels' : 'csv']
  for (const [name, channel] of [
    ['torque', torque],
    ['angle', angle],
  ] as const) {
    if (channel === undefined) return refused(field, 'missing', `The channel ${name} is required.`)
  }
  if (torque === undefined || angle === undefined) throw new RangeError('torque and angle were checked above')

  const count = torque.values.length
  if (count < 2) return unreadable(torque.field, 'A recording has at least two samples.')
  for (const channel of channels) {
    if (channel.values.length !== count) {
      return refused(channel.field, 'unequal_lengths', 'All channels of a recording have the same number of samples.')
    }
  }

  const clock = readClock(byName.get('time'), recording, count, path)
  if (!clock.ok) return clock
  const torqueNm = toFloat32(torque)
  if (!torqueNm.ok) return torqueNm
  const angleDeg = toFloat32(angle)
  if (!angleDeg.ok) return angleDeg
  const velocity = byName.get('velocity')
  const velocityDegS = velocity === undefined ? null : toFloat32(velocity)
  if (velocityDegS !== null && !velocityDegS.ok) return velocityDegS
  return {
    ok: true,
    value: {
      ...clock.value,
      torqueNm: torqueNm.value,
      angleDeg: angleDeg.value,
      velocityDegS: velocityDegS?.value ?? null,
    },
  }
}

function toFloat32(channel: SentChannel): Decoded<Float32Array> {
  const { name, unit, values } = channel
  const canonical = canonicalUnitOf(CHANNEL_KINDS[name])
  const largest = name === 'time' ? Infinity : LARGEST[name]
  const quantised = new Float32Array(values.length)
  for (let i = 0; i < values.length; i++) {
    const sent = values[i] ?? NaN
    const value = unit === canonical || !Number.isFinite(sent) ? sent : convert(sent, unit, canonical)
    // Also false for NaN and infinity
    if (!(Math.abs(value) <= largest)) {
      const { path, where } = channel.locate(i)
      return refused(path, 'out_of_range', `${where}${name} lies between -${largest} and ${largest} ${canonical}.`)
    }
    // Adding 0 turns -0 into 0: they are one value and must have one hash
    quantised[i] = value + 0
  }
  return { ok: true, value: quantised }
}

type Clock = Pick<QuantisedSamples, 'timeUs' | 'sampleRateHz'>

function readClock(
  time: SentChannel | undefined,
  recording: RecordingDocument,
  count: number,
  path: JsonPath,
): Decoded<Clock> {
  const { recordingSeconds, minSampleRateHz, maxSampleRateHz } = SESSION_LIMITS
  const tooLong = `A recording lasts at most ${recordingSeconds / 60} minutes.`
  const sampleRate = recording.sampleRate?.canonicalValue
  if (time !== undefined && sampleRate !== undefined) {
    return refused([...path, 'sampleRate'], 'not_applicable', 'The channel time says when; leave the sampleRate out.')
  }
  if (sampleRate !== undefined) {
    if (count > recordingSeconds * sampleRate + 1) return refused(path, 'out_of_range', tooLong)
    return { ok: true, value: { timeUs: null, sampleRateHz: sampleRate } }
  }
  if (time === undefined)
    return refused([...path, 'sampleRate'], 'missing', 'A recording has a sampleRate or a channel time.')

  const seconds = new Float64Array(count)
  for (let i = 0; i < count; i++) {
    const sent = time.values[i] ?? NaN
    seconds[i] = Number.isFinite(sent) ? convert(sent, time.unit, 's') : NaN
    if (i > 0 && !((seconds[i] ?? NaN) > (seconds[i - 1] ?? NaN))) {
      const { path: at, where } = time.locate(i)
      return unreadable(at, `${where}time must increase from sample to sample.`)
    }
  }
  const start = seconds[0] ?? NaN
  const durationS = (seconds[count - 1] ?? NaN) - start
  if (!(durationS <= recordingSeconds)) return refused(time.locate(count - 1).path, 'out_of_range', tooLong)
  const meanRate = (count - 1) / durationS
  if (!(meanRate >= minSampleRateHz / RATE_NOISE && meanRate <= maxSampleRateHz * RATE_NOISE)) {
    const message = `The sampling rate must lie between ${minSampleRateHz} and ${maxSampleRateHz} Hz.`
    return refused(time.field, 'out_of_range', message)
  }
  // A time column printed to the millisecond gives 999.98 Hz for a device that samples at 1000
  for (const rate of [Math.round(meanRate), meanRate]) {
    const even = seconds.every((second, i) => Math.abs(second - start - i / rate) <= EVEN_WITHIN / rate)
    if (even) return { ok: true, value: { timeUs: null, sampleRateHz: rate } }
  }
  const timeUs = Int32Array.from(seconds, (second) => Math.round((second - start) * 1e6))
  const repeated = timeUs.findIndex((microsecond, i) => i > 0 && microsecond <= (timeUs[i - 1] ?? 0))
  if (repeated !== -1) {
    const { path: at, where } = time.locate(repeated)
    return unreadable(at, `${where}samples must be at least a microsecond apart.`)
  }
  return { ok: true, value: { timeUs, sampleRateHz: null } }
}
