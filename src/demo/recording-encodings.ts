import type { SimulatedRecording } from './simulator/simulate-recording.ts'

/** The three ways in which a recording may be written into a session document. */
export type RecordingEncoding = 'channels' | 'csv' | 'f32leBase64'

export interface RecordingDocument {
  readonly torquePositive: 'extension' | 'flexion' | 'unsigned'
  readonly anglePositive: 'extension' | 'flexion'
  readonly readingAtAnatomicalZero: { readonly value: number; readonly unit: 'deg' }
  readonly torqueState: 'measured' | 'gravity_corrected'
  readonly deviceFilter: 'none'
  readonly deviceWindowing: 'none'
  readonly sampleRate?: { readonly value: number; readonly unit: 'Hz' }
  readonly channels?: readonly RecordingChannel[]
  readonly csv?: string
}

export interface RecordingChannel {
  readonly name: 'torque' | 'angle' | 'velocity'
  readonly unit: string
  readonly values?: readonly number[]
  /** Samples as little-endian 32-bit floats, base64. */
  readonly f32leBase64?: string
}

/** Numbers are written as finely as a laboratory would: 0.01 N.m, 0.01 deg, 0.1 deg/s. */
const DECIMALS = { torque: 2, angle: 2, velocity: 1 } as const

export function encodeRecording(recording: SimulatedRecording, encoding: RecordingEncoding): RecordingDocument {
  const { options, sampleRateHz } = recording
  const declared = {
    torquePositive: options.torquePositive,
    anglePositive: options.anglePositive,
    readingAtAnatomicalZero: { value: options.readingAtAnatomicalZeroDeg, unit: 'deg' },
    torqueState: options.torqueState,
    deviceFilter: 'none',
    deviceWindowing: 'none',
  } as const
  if (encoding === 'csv') return { ...declared, csv: recordingCsv(recording) }

  const channels = [
    { name: 'torque', unit: 'N.m', samples: recording.torqueNm },
    { name: 'angle', unit: 'deg', samples: recording.angleDeg },
    { name: 'velocity', unit: 'deg/s', samples: recording.velocityDegS },
  ] as const
  return {
    ...declared,
    sampleRate: { value: sampleRateHz, unit: 'Hz' },
    channels: channels.map(({ name, unit, samples }) =>
      encoding === 'channels'
        ? { name, unit, values: Array.from(samples, (sample) => rounded(sample, DECIMALS[name])) }
        : { name, unit, f32leBase64: float32Base64(samples) },
    ),
  }
}

/** Without velocity: it has to be derived from the angle then. */
export function recordingCsv(recording: SimulatedRecording): string {
  const timeDecimals = recording.sampleRateHz > 1000 ? 6 : 3
  const rows = Array.from(recording.timeS, (time, i) =>
    [
      time.toFixed(timeDecimals),
      rounded(recording.torqueNm[i]!, DECIMALS.torque),
      rounded(recording.angleDeg[i]!, DECIMALS.angle),
    ].join(','),
  )
  return ['time (s),torque (N.m),angle (deg)', ...rows, ''].join('\n')
}

function float32Base64(samples: Float64Array): string {
  const bytes = new DataView(new ArrayBuffer(samples.length * 4))
  samples.forEach((sample, i) => bytes.setFloat32(i * 4, sample, true))
  return Buffer.from(bytes.buffer).toString('base64')
}

function rounded(value: number, decimals: number): number {
  // "+ 0" turns -0 into 0.
  return Math.round(value * 10 ** decimals) / 10 ** decimals + 0
}
