import { zstdCompressSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import fc from 'fast-check'
import {
  CorruptRecording,
  packRecording,
  toRecording,
  unpackRecording,
} from '../../../src/application/prepare-session/stored-recording.ts'
import type { QuantisedSamples, RecordingMeaning } from '../../../src/application/prepare-session/stored-recording.ts'

const meaning: RecordingMeaning = {
  torquePositive: 'extension',
  anglePositive: 'flexion',
  readingAtAnatomicalZeroDeg: 0,
  torqueState: 'measured',
  deviceFilter: 'none',
  deviceWindowing: 'none',
}

const samplesOf = (n: number): QuantisedSamples => ({
  timeUs: null,
  sampleRateHz: 1000,
  torqueNm: Float32Array.from({ length: n }, (_, i) => Math.sin(i / 50) * 180),
  angleDeg: Float32Array.from({ length: n }, (_, i) => 95 - i / 100),
  velocityDegS: Float32Array.from({ length: n }, () => -60),
})

const float32 = fc.float({ noNaN: true, noDefaultInfinity: true }).map((value) => value + 0)

const anySamples: fc.Arbitrary<QuantisedSamples> = fc.integer({ min: 0, max: 40 }).chain((n) => {
  const column = fc.array(float32, { minLength: n, maxLength: n }).map((values) => Float32Array.from(values))
  const time = fc
    .uniqueArray(fc.integer({ min: 0, max: 600_000_000 }), { minLength: n, maxLength: n })
    .map((values) => Int32Array.from(values.sort((a, b) => a - b)))
  return fc
    .record({
      timeUs: fc.option(time),
      sampleRateHz: fc.constant(null),
      torqueNm: column,
      angleDeg: column,
      velocityDegS: fc.option(column),
    })
    .map((samples) => ({ ...samples, sampleRateHz: samples.timeUs === null ? 999.96 : null }))
})

describe('the stored form of a recording', () => {
  it('gives back every bit of what was packed, and packs that to the same bytes and hash', () => {
    fc.assert(
      fc.property(anySamples, (samples) => {
        const { bytes, header, sha256 } = packRecording(samples, meaning)
        const back = unpackRecording(bytes, header, sha256)
        expect(back).toEqual(samples)
        const again = packRecording(back, meaning)
        expect(again.sha256).toBe(sha256)
        expect(Buffer.from(again.bytes).equals(bytes)).toBe(true)
      }),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('survives a header whose keys come back in another order, as from a database', () => {
    const { bytes, header, sha256 } = packRecording(samplesOf(100), meaning)
    const reordered = Object.fromEntries(Object.entries(header).reverse()) as unknown as typeof header
    expect(unpackRecording(bytes, reordered, sha256)).toEqual(samplesOf(100))
  })

  it('has another hash when one bit of a sample or one word of the header differs', () => {
    const { sha256 } = packRecording(samplesOf(100), meaning)
    const nudged = samplesOf(100)
    nudged.torqueNm[50] = Math.fround(nudged.torqueNm[50]! + 1e-4)
    expect(packRecording(nudged, meaning).sha256).not.toBe(sha256)
    expect(packRecording(samplesOf(100), { ...meaning, torqueState: 'unknown' }).sha256).not.toBe(sha256)
    expect(packRecording(samplesOf(100), { ...meaning, torquePositive: 'flexion' }).sha256).not.toBe(sha256)
  })

  it('refuses bytes cut at any place', () => {
    const { bytes, header, sha256 } = packRecording(samplesOf(500), meaning)
    for (let length = 0; length < bytes.length; length += 7) {
      expect(() => unpackRecording(bytes.slice(0, length), header, sha256)).toThrow(CorruptRecording)
    }
  })

  it('refuses bytes of which any one was changed', () => {
    const { bytes, header, sha256 } = packRecording(samplesOf(200), meaning)
    for (let at = 0; at < bytes.length; at += 3) {
      const changed = Uint8Array.from(bytes)
      changed[at]! ^= 0x10
      let samples: QuantisedSamples | null = null
      try {
        samples = unpackRecording(changed, header, sha256)
      } catch (error) {
        expect(error).toBeInstanceOf(CorruptRecording)
      }
      // A byte the decompressor ignores may change; then the samples are still the ones that were hashed
      if (samples !== null) expect(samples).toEqual(samplesOf(200))
    }
  })

  it('refuses garbage, a bomb, and a header of another recording', () => {
    const { bytes, header, sha256 } = packRecording(samplesOf(200), meaning)
    const bomb = zstdCompressSync(new Uint8Array(64 * 1024 * 1024))
    expect(bomb.length).toBeLessThan(10_000)
    for (const wrong of [Uint8Array.of(), Uint8Array.of(1, 2, 3), new Uint8Array(1000).fill(7), bomb]) {
      expect(() => unpackRecording(wrong, header)).toThrow(CorruptRecording)
    }
    expect(() => unpackRecording(bytes, { ...header, sampleCount: 199 })).toThrow(CorruptRecording)
    expect(() => unpackRecording(bytes, { ...header, sampleCount: 1e12 })).toThrow(CorruptRecording)
    expect(() => unpackRecording(bytes, { ...header, channels: ['torque', 'angle'] })).toThrow(CorruptRecording)
    expect(() => unpackRecording(bytes, { ...header, anglePositive: 'extension' }, sha256)).toThrow(CorruptRecording)
  })

  it('gives the core times that are the sample number over the rate, not an accumulated sum', () => {
    const { timeS } = toRecording(samplesOf(60_001), meaning)
    expect(timeS[60_000]).toBe(60)
    expect(timeS[59_999]).toBe(59.999)
  })
})
