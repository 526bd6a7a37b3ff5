/* eslint-disable @typescript-eslint/no-unsafe-argument, @typescript-eslint/no-unsafe-assignment --
   documents are taken apart and broken on purpose */
import { describe, expect, it } from 'vitest'
import { decodeRecording } from '../../../src/application/prepare-session/decode-recording.ts'
import type { DecodedRecording } from '../../../src/application/prepare-session/decode-recording.ts'
import { packRecording } from '../../../src/application/prepare-session/stored-recording.ts'
import { convert } from '../../../src/compute/units/index.ts'
import type { FieldFault } from '../../../src/domain/errors.ts'
import { recordingDocument } from '../../../src/domain/session-document.ts'
import { sampleMovement, toCsv, toF32Base64 } from '../../fixtures/example-session.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'

const meaning = {
  torquePositive: 'extension',
  anglePositive: 'flexion',
  readingAtAnatomicalZero: { value: 0, unit: 'deg' },
  torqueState: 'measured',
  deviceFilter: 'none',
  deviceWindowing: 'none',
}
const sampleRate = { value: 1000, unit: 'Hz' }

function decode(recording: LooseDocument): DecodedRecording {
  const decoded = decodeRecording(recordingDocument.parse({ ...meaning, ...recording }), ['sets', 0, 'recording'])
  if (!decoded.ok) expect.fail(JSON.stringify(decoded.fault))
  return decoded.value
}

function faultOf(recording: LooseDocument): FieldFault | null {
  const decoded = decodeRecording(recordingDocument.parse({ ...meaning, ...recording }), ['sets', 0, 'recording'])
  return decoded.ok ? null : decoded.fault
}

function sha256(recording: LooseDocument): string {
  const { readingAtAnatomicalZero: _zero, ...words } = meaning
  return packRecording(decode(recording).samples, { ...(words as LooseDocument), readingAtAnatomicalZeroDeg: 0 }).sha256
}

const movement = sampleMovement({ repetitions: 2 })
const asValues = {
  sampleRate,
  channels: [
    { name: 'torque', unit: 'N.m', values: movement.torqueNm },
    { name: 'angle', unit: 'deg', values: movement.angleDeg },
  ],
}
const asBase64 = {
  sampleRate,
  channels: [
    { name: 'torque', unit: 'N.m', f32leBase64: toF32Base64(movement.torqueNm) },
    { name: 'angle', unit: 'deg', f32leBase64: toF32Base64(movement.angleDeg) },
  ],
}
const asCsv = { csv: toCsv(movement) }

describe('the encodings of a recording', () => {
  it('give one hash for the same numbers: values, CSV with a time column, Base64', () => {
    expect(sha256(asCsv)).toBe(sha256(asValues))
    expect(sha256(asBase64)).toBe(sha256(asValues))
  })

  it('give one hash whether a channel time or a sample rate says when, and whatever the order of channels', () => {
    const time = { name: 'time', unit: 'ms', values: movement.timeS.map((_, i) => 250 + i) }
    expect(sha256({ channels: [asValues.channels[1], time, asValues.channels[0]] })).toBe(sha256(asValues))
    expect(sha256({ ...asValues, sampleRate: { value: 1, unit: 'kHz' } })).toBe(sha256(asValues))
  })

  it('give one hash for CSV with CR LF, quotes, an exponent and without the last line feed', () => {
    const rewritten = toCsv(movement).trimEnd().replaceAll('\n', '\r\n').replace('torque (N.m)', '"torque (N.m)"')
    expect(sha256({ csv: rewritten })).toBe(sha256(asValues))
    const [header, first, ...rest] = toCsv(movement).split('\n')
    const exponent = first!.replace(/,.*/, `,${movement.torqueNm[0]! * 10}e-1,"+${movement.angleDeg[0]!}"`)
    expect(sha256({ csv: [header, exponent, ...rest].join('\n') })).toBe(sha256(asValues))
  })

  it('give 0 and -0 one hash', () => {
    const zeros = (zero: number): LooseDocument => ({
      sampleRate,
      channels: [
        { name: 'torque', unit: 'N.m', values: [zero, 1] },
        { name: 'angle', unit: 'deg', values: [1, zero] },
      ],
    })
    expect(sha256(zeros(-0))).toBe(sha256(zeros(0)))
    expect(sha256({ csv: 'time (s),torque (N.m),angle (deg)\n0,-0,1\n0.001,1,-0.0\n' })).toBe(sha256(zeros(0)))
  })

  it('say how they were sent', () => {
    expect([asValues, asBase64, asCsv].map((recording) => decode(recording).encoding)).toEqual([
      'values',
      'f32leBase64',
      'csv',
    ])
    expect(decode({ sampleRate, channels: [asValues.channels[0], asBase64.channels[1]] }).encoding).toBe('mixed')
  })

  it('convert foot-pounds, radians and milliseconds exactly, before the samples are quantised', () => {
    const footPounds = movement.torqueNm.map((torque) => convert(torque, 'N.m', '[ft_i].[lbf_av]'))
    const radians = movement.angleDeg.map((angle) => convert(angle, 'deg', 'rad'))
    const { samples } = decode({
      channels: [
        { name: 'time', unit: 'ms', values: movement.timeS.map((time) => time * 1000) },
        { name: 'torque', unit: '[ft_i].[lbf_av]', values: footPounds },
        { name: 'angle', unit: 'rad', values: radians },
      ],
    })
    expect([...samples.torqueNm]).toEqual(
      footPounds.map((torque) => Math.fround(convert(torque, '[ft_i].[lbf_av]', 'N.m'))),
    )
    // There and back in binary64 is closer than float32 can tell
    expect([...samples.torqueNm]).toEqual([...Float32Array.from(movement.torqueNm)])
    expect([...samples.angleDeg]).toEqual([...Float32Array.from(movement.angleDeg)])
    expect(samples.sampleRateHz).toBe(1000)
  })

  it('keep uneven times, to the microsecond', () => {
    const values = [0, 0.001, 0.0025, 0.0041, 0.0052, 0.006]
    const six = [1, 2, 3, 4, 5, 6]
    const { samples } = decode({
      channels: [
        { name: 'time', unit: 's', values: values.map((time) => time + 3) },
        { name: 'torque', unit: 'N.m', values: six },
        { name: 'angle', unit: 'deg', values: six },
      ],
    })
    expect(samples.sampleRateHz).toBeNull()
    expect([...samples.timeUs!]).toEqual([0, 1000, 2500, 4100, 5200, 6000])
  })

  it('keep a rate that is not a whole number', () => {
    const n = 3000
    const times = Array.from({ length: n }, (_, i) => i / 333.25)
    const channels = [
      { name: 'time', unit: 's', values: times },
      { name: 'torque', unit: 'N.m', values: times },
      { name: 'angle', unit: 'deg', values: times },
    ]
    expect(decode({ channels }).samples.sampleRateHz).toBeCloseTo(333.25, 9)
  })

  const csv = (...lines: string[]): LooseDocument => ({
    csv: `time (s),torque (N.m),angle (deg)\n${lines.join('\n')}\n`,
  })
  const channels = (
    torque: LooseDocument,
    angle: LooseDocument = torque,
    more: LooseDocument = { sampleRate },
  ): LooseDocument => ({
    ...more,
    channels: [
      { name: 'torque', unit: 'N.m', ...torque },
      { name: 'angle', unit: 'deg', ...angle },
    ],
  })
  const time = (...values: number[]): LooseDocument => ({
    channels: [
      { name: 'time', unit: 's', values },
      { name: 'torque', unit: 'N.m', values: values.map(() => 1) },
      { name: 'angle', unit: 'deg', values: values.map(() => 1) },
    ],
  })
  const base64Of = (bytes: number[]): string => Buffer.from(bytes).toString('base64')
  const at = '#/sets/0/recording'

  const refused: [what: string, recording: LooseDocument, code: string, pointer: string, message: RegExp][] = [
    ['an empty CSV', { csv: '' }, 'recording_not_readable', `${at}/csv`, /Column 1/],
    [
      'a header without units',
      { csv: 'time,torque,angle\n0,1,2\n' },
      'recording_not_readable',
      `${at}/csv`,
      /Column 1/,
    ],
    [
      'an unknown column',
      { csv: 'time (s),torque (N.m),angle (deg),force (N)\n' },
      'recording_not_readable',
      `${at}/csv`,
      /Column 4/,
    ],
    [
      'a column twice',
      { csv: 'time (s),torque (N.m),torque (N.m)\n' },
      'recording_not_readable',
      `${at}/csv`,
      /torque occurs twice/,
    ],
    [
      '"Nm" in a header',
      { csv: 'time (s),torque (Nm),angle (deg)\n0,1,2\n' },
      'unit_not_ucum',
      `${at}/csv`,
      /Column 2 .* Write "N.m"/,
    ],
    [
      'newtons in a header',
      { csv: 'time (s),torque (N),angle (deg)\n0,1,2\n' },
      'unit_wrong_kind',
      `${at}/csv`,
      /Column 2/,
    ],
    ['no angle', { csv: 'time (s),torque (N.m)\n0,1\n0.001,2\n' }, 'missing', `${at}/csv`, /angle/],
    [
      'semicolons',
      { csv: 'time (s);torque (N.m);angle (deg)\n0;1,5;2\n' },
      'recording_not_readable',
      `${at}/csv`,
      /separated by a comma/,
    ],
    ['a decimal comma', csv('0,1,2', '0,001,1,2'), 'recording_not_readable', `${at}/csv`, /Line 3/],
    ['a quoted decimal comma', csv('0,1,2', '0.001,"1,5",2'), 'recording_not_readable', `${at}/csv`, /Line 3, torque/],
    ['a ragged line', csv('0,1,2', '0.001,1'), 'recording_not_readable', `${at}/csv`, /Line 3/],
    ['an empty line in the middle', csv('0,1,2', '', '0.001,1,2'), 'recording_not_readable', `${at}/csv`, /Line 3/],
    ['an empty cell', csv('0,1,2', '0.001,,2'), 'recording_not_readable', `${at}/csv`, /Line 3, torque/],
    ['a word', csv('0,1,2', '0.001,1,NaN'), 'recording_not_readable', `${at}/csv`, /Line 3, angle/],
    ['a hexadecimal number', csv('0,1,2', '0.001,0x10,2'), 'recording_not_readable', `${at}/csv`, /Line 3, torque/],
    ['1e999 in CSV', csv('0,1,2', '0.001,1e999,2'), 'out_of_range', `${at}/csv`, /Line 3, torque/],
    ['an open quote', csv('0,1,2', '0.001,"1,2'), 'recording_not_readable', `${at}/csv`, /Line/],
    [
      'a cut last line',
      { csv: 'time (s),torque (N.m),angle (deg)\n0,1,2\n0.001,1' },
      'recording_not_readable',
      `${at}/csv`,
      /Line 3/,
    ],
    ['a header alone', csv(), 'recording_not_readable', `${at}/csv`, /./],
    [
      'a sample rate beside a time column',
      { ...csv('0,1,2', '0.001,1,2'), sampleRate },
      'not_applicable',
      `${at}/sampleRate`,
      /leave the sampleRate out/,
    ],
    [
      'neither time column nor sample rate',
      { csv: 'torque (N.m),angle (deg)\n1,2\n1,2\n' },
      'missing',
      `${at}/sampleRate`,
      /./,
    ],
    [
      'Base64 with a line break',
      channels({ f32leBase64: 'AAAA\nAAA' }),
      'recording_not_readable',
      `${at}/channels/0/f32leBase64`,
      /Base64/,
    ],
    [
      'Base64 in the URL alphabet',
      channels({ f32leBase64: 'AAA-AAA_' }),
      'recording_not_readable',
      `${at}/channels/0/f32leBase64`,
      /Base64/,
    ],
    [
      'Base64 without its padding',
      channels({ f32leBase64: 'AAAAAAA' }),
      'recording_not_readable',
      `${at}/channels/0/f32leBase64`,
      /Base64/,
    ],
    [
      'Base64 with unused bits set',
      channels({ f32leBase64: 'AAAAAB==' }),
      'recording_not_readable',
      `${at}/channels/0/f32leBase64`,
      /Base64/,
    ],
    [
      'three bytes of a float',
      channels({ f32leBase64: base64Of([1, 2, 3]) }),
      'recording_not_readable',
      `${at}/channels/0/f32leBase64`,
      /Base64/,
    ],
    [
      'NaN in Base64',
      channels({ values: [1, 2] }, { f32leBase64: base64Of([0, 0, 0, 0, 0, 0, 0xc0, 0x7f]) }),
      'out_of_range',
      `${at}/channels/1/f32leBase64`,
      /Sample 2/,
    ],
    [
      'Infinity in Base64',
      channels({ f32leBase64: base64Of([0, 0, 0x80, 0x7f, 0, 0, 0, 0]) }),
      'out_of_range',
      `${at}/channels/0/f32leBase64`,
      /Sample 1/,
    ],
    [
      'lengths that differ across encodings',
      channels({ values: [1, 2, 3] }, { f32leBase64: toF32Base64([1, 2]) }),
      'unequal_lengths',
      `${at}/channels/1/f32leBase64`,
      /same number/,
    ],
    ['a single sample', channels({ values: [1] }), 'recording_not_readable', `${at}/channels/0/values`, /two samples/],
    ['no sample', channels({ values: [] }), 'recording_not_readable', `${at}/channels/0/values`, /two samples/],
    [
      'a torque no limb makes',
      channels({ values: [1, 3001] }, { values: [1, 2] }),
      'out_of_range',
      `${at}/channels/0/values/1`,
      /3000/,
    ],
    [
      'a number beyond float32',
      channels({ values: [1e300, 1] }, { values: [1, 2] }),
      'out_of_range',
      `${at}/channels/0/values/0`,
      /3000/,
    ],
    [
      'an angle of 800 deg',
      channels({ values: [1, 2] }, { values: [1, 800] }),
      'out_of_range',
      `${at}/channels/1/values/1`,
      /720/,
    ],
    [
      'time that stands still',
      time(0, 0.001, 0.001),
      'recording_not_readable',
      `${at}/channels/0/values/2`,
      /increase/,
    ],
    ['time that runs back', time(0, 0.002, 0.001), 'recording_not_readable', `${at}/channels/0/values/2`, /increase/],
    [
      'samples closer than a microsecond',
      time(0, 0.01, 0.0100000001, 0.02),
      'recording_not_readable',
      `${at}/channels/0/values/2`,
      /microsecond/,
    ],
    ['10 samples a second', time(0, 0.1, 0.2), 'out_of_range', `${at}/channels/0/values`, /50/],
    ['10,000 samples a second', time(0, 0.0001, 0.0002), 'out_of_range', `${at}/channels/0/values`, /5000/],
    [
      'more than ten minutes by its times',
      time(0, 0.001, 601),
      'out_of_range',
      `${at}/channels/0/values/2`,
      /10 minutes/,
    ],
    [
      'more than ten minutes by its rate',
      channels({ values: Array.from({ length: 30_002 }, () => 1) }, undefined, {
        sampleRate: { value: 50, unit: 'Hz' },
      }),
      'out_of_range',
      at,
      /10 minutes/,
    ],
  ]
  it.each(refused)('refuse %s', (_what, recording, code, pointer, message) => {
    const fault = faultOf(recording)
    expect({ code: fault?.code, pointer: fault?.pointer }).toEqual({ code, pointer })
    expect(fault?.message).toMatch(message)
  })

  it('accept exactly ten minutes', () => {
    const values = Array.from({ length: 30_001 }, () => 1)
    expect(faultOf(channels({ values }, undefined, { sampleRate: { value: 50, unit: 'Hz' } }))).toBeNull()
  })
})
