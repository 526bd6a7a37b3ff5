import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { decodeRecording } from '../../../src/application/prepare-session/decode-recording.ts'
import { printRecording } from '../../../src/application/prepare-session/print-recording.ts'
import {
  CorruptRecording,
  packRecording,
  type QuantisedSamples,
  type RecordingMeaning,
} from '../../../src/application/prepare-session/stored-recording.ts'
import type { RecordingDocument } from '../../../src/domain/session-document.ts'

const MEANING: RecordingMeaning = {
  torquePositive: 'extension',
  anglePositive: 'flexion',
  readingAtAnatomicalZeroDeg: 0,
  torqueState: 'measured',
  deviceFilter: 'none',
  deviceWindowing: 'none',
}

const even: QuantisedSamples = {
  timeUs: null,
  sampleRateHz: 1000,
  torqueNm: Float32Array.of(182.4, -0.6, 1e-7),
  angleDeg: Float32Array.of(94.8, 94.7, -3.25),
  velocityDegS: Float32Array.of(0, -3.1, 59.95),
}

const uneven: QuantisedSamples = {
  timeUs: Int32Array.of(0, 1000, 2001),
  sampleRateHz: null,
  torqueNm: even.torqueNm,
  angleDeg: even.angleDeg,
  velocityDegS: null,
}

function print(samples: QuantisedSamples, form: 'json' | 'csv', about = {}): string {
  const { bytes, header, sha256 } = packRecording(samples, MEANING)
  return new TextDecoder().decode(printRecording({ bytes, header, sha256, form, about }))
}

describe('a stored recording as text', () => {
  it('is JSON with a list for each channel, its header as hashed, and what is said about it', () => {
    const { header, sha256 } = packRecording(even, MEANING)
    expect(JSON.parse(print(even, 'json', { set: 'left-60' }))).toEqual({
      set: 'left-60',
      sha256,
      header,
      sampleRate: { value: 1000, unit: 'Hz' },
      channels: [
        { name: 'torque', unit: 'N.m', values: [182.4, -0.6, 1e-7] },
        { name: 'angle', unit: 'deg', values: [94.8, 94.7, -3.25] },
        { name: 'velocity', unit: 'deg/s', values: [0, -3.1, 59.95] },
      ],
    })
  })

  it('is CSV with a column for each channel, time first', () => {
    expect(print(even, 'csv')).toBe(
      'time (s),torque (N.m),angle (deg),velocity (deg/s)\n0,182.4,94.8,0\n0.001,-0.6,94.7,-3.1\n0.002,1e-7,-3.25,59.95\n',
    )
  })

  it('of uneven sampling has time as a channel and no sample rate', () => {
    const json = JSON.parse(print(uneven, 'json')) as { sampleRate: unknown; channels: { name: string }[] }
    expect(json.sampleRate).toBe(null)
    expect(json.channels[0]).toEqual({ name: 'time', unit: 's', values: [0, 0.001, 0.002001] })
    expect(print(uneven, 'csv')).toBe('time (s),torque (N.m),angle (deg)\n0,182.4,94.8\n0.001,-0.6,94.7\n0.002001,1e-7,-3.25\n') // prettier-ignore
  })

  it('is not printed when the bytes are not those that were hashed', () => {
    const { bytes, header, sha256 } = packRecording(even, MEANING)
    const other = packRecording({ ...even, torqueNm: Float32Array.of(182.5, -0.6, 1e-7) }, MEANING)
    const task = { header, sha256, form: 'json', about: {} } as const
    expect(() => printRecording({ ...task, bytes: other.bytes })).toThrow(CorruptRecording)
    expect(() => printRecording({ ...task, bytes: bytes.slice(0, -2) })).toThrow(CorruptRecording)
    expect(() => printRecording({ ...task, bytes, header: { ...header, torquePositive: 'flexion' } })).toThrow(CorruptRecording) // prettier-ignore
  })
})

/** Whatever float32 a sample is: the text is the fewest digits, and they are the same float32 again. */
const sample = (limit: number) => fc.float({ min: Math.fround(-limit), max: Math.fround(limit), noNaN: true })

describe('laws', () => {
  it('read back and pushed again, in either form, a recording has the same hash', () => {
    const rows = fc.array(fc.tuple(sample(3000), sample(720), sample(2000)), { minLength: 3, maxLength: 60 })
    fc.assert(
      fc.property(rows, fc.constantFrom(50, 100, 1000, 5000), fc.boolean(), (values, sampleRateHz, withVelocity) => {
        const column = (place: 0 | 1 | 2) => Float32Array.from(values, (row) => row[place] + 0)
        const samples: QuantisedSamples = {
          timeUs: null,
          sampleRateHz,
          torqueNm: column(0),
          angleDeg: column(1),
          velocityDegS: withVelocity ? column(2) : null,
        }
        const stored = packRecording(samples, MEANING)
        const { channels } = JSON.parse(print(samples, 'json')) as { channels: RecordingDocument['channels'] }
        const asChannels = { channels, sampleRate: { canonicalValue: sampleRateHz } }
        for (const sent of [asChannels, { csv: print(samples, 'csv') }]) {
          const decoded = decodeRecording(sent as unknown as RecordingDocument, [])
          expect(decoded.ok && packRecording(decoded.value.samples, MEANING).sha256).toBe(stored.sha256)
        }
      }),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('no number has more digits than it needs', () => {
    fc.assert(
      fc.property(fc.integer({ min: -300_000, max: 300_000 }), (hundredths) => {
        const torqueNm = Float32Array.of(hundredths / 100, 0)
        const samples = { ...even, torqueNm, angleDeg: Float32Array.of(0, 0), velocityDegS: null }
        expect(print(samples, 'csv').split('\n')[1]).toBe(`0,${hundredths / 100},0`)
      }),
      { seed: 20261125, numRuns: 500 },
    )
  })
})
