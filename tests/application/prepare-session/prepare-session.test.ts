/* eslint-disable @typescript-eslint/no-unsafe-member-access, @typescript-eslint/no-unsafe-assignment, @typescript-eslint/no-unsafe-call --
   documents are taken apart and broken on purpose */
import { createHash } from 'node:crypto'
import { beforeAll, describe, expect, it } from 'vitest'
import canonicalize from 'canonicalize'
import { prepareSession } from '../../../src/application/prepare-session/prepare-session.ts'
import type { PreparedSession, PreparedSet } from '../../../src/application/prepare-session/prepared-session.ts'
import { reanalyse } from '../../../src/application/prepare-session/reanalyse.ts'
import { convert, MEASURE_NAMES } from '../../../src/compute/index.ts'
import type { FieldFault } from '../../../src/domain/errors.ts'
import {
  exampleSession,
  sampleMovement,
  shortSession,
  toBytes,
  toCsv,
  toF32Base64,
} from '../../fixtures/example-session.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'

function prepare(document: unknown): PreparedSession {
  const preparation = prepareSession(toBytes(document))
  if (preparation.outcome !== 'prepared') expect.fail(JSON.stringify(preparation))
  return preparation.session
}

function faultsOf(body: unknown, envelope: 'session' | 'amendment' = 'session'): readonly FieldFault[] {
  const bytes = typeof body === 'string' ? new TextEncoder().encode(body) : toBytes(body)
  const preparation = prepareSession(bytes, { envelope })
  return preparation.outcome === 'refused' ? preparation.faults : []
}

function computed(set: PreparedSet | undefined): Extract<PreparedSet, { origin: 'computed' }> {
  if (set?.origin !== 'computed') expect.fail('the set was not computed')
  return set
}

// Whole recordings on a machine that may be busy: the limit is for a hang, not for speed
describe('preparing the example session', { timeout: 60_000 }, () => {
  const document = exampleSession()
  let session: PreparedSession
  beforeAll(() => {
    session = prepare(document)
  }, 60_000)

  it('accepts it whole: two recordings, two reported sets, two setups', () => {
    expect(session.sets.map(({ key, origin, side }) => [key, origin, side])).toEqual([
      ['left-60', 'computed', 'left'],
      ['left-180', 'reported', 'left'],
      ['right-60', 'computed', 'right'],
      ['right-180', 'reported', 'right'],
    ])
    expect(session.recordings.map(({ sampleRateHz, header }) => [sampleRateHz, header.channels])).toEqual([
      [1000, ['torque', 'angle']],
      [1000, ['torque', 'angle', 'velocity']],
    ])
    expect(session.setups.map(({ key }) => key)).toEqual(['left-knee', 'right-knee'])
  })

  it('counts the repetitions, and not the one that was noted as aborted', () => {
    const [left, , right] = session.sets
    expect(computed(left).directions.map(({ counted }) => counted)).toEqual([5, 5])
    expect(computed(right).directions.map(({ counted, notCounted }) => [counted, notCounted])).toEqual([
      [4, [{ repetition: 2, reason: 'aborted' }]],
      [4, [{ repetition: 2, reason: 'aborted' }]],
    ])
  })

  it('corrects for gravity with the moment of the setup’s own weighing', () => {
    // 10.6 / cos 35 deg and 10.8 / cos 35 deg
    expect(session.setups.map(({ gravityMomentNm }) => gravityMomentNm.value)).toEqual([
      expect.closeTo(12.9402, 4) as number,
      expect.closeTo(13.1844, 4) as number,
    ])
    const [left] = session.sets
    expect(computed(left).analysis.gravityCorrection).toBe('limb_weighing_cosine')
    expect(computed(left).gravity).toMatchObject({
      kind: 'cosine',
      orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 },
    })
  })

  it('recovers the invented torque with its sign and side: extension and flexion, left and right', () => {
    const best = [0, 2].map((index) =>
      computed(session.sets[index]).directions.map(({ measures }) => measures.peakTorque?.best?.value),
    )
    // Each repetition is the nominal torque less up to 3 %, sampled with 0.5 N.m of noise
    const nominal = [
      [171, 90],
      [159, 90],
    ]
    nominal.forEach((limb, side) =>
      limb.forEach((torque, direction) => {
        expect(best[side]?.[direction]).toBeGreaterThan(torque * 0.97 - 1.5)
        expect(best[side]?.[direction]).toBeLessThan(torque + 1.5)
      }),
    )
  })

  it('gives a direction with nothing reported every measure as null, not_reported', () => {
    const [, flexion] = session.sets[3]!.directions
    expect(flexion).toMatchObject({ movement: 'flexion', counted: null, repetitions: [] })
    expect(Object.keys(flexion!.measures).sort()).toEqual([...MEASURE_NAMES].sort())
    const values = Object.values(flexion!.measures).flatMap((statistics) => Object.values(statistics))
    expect(values.length).toBeGreaterThan(MEASURE_NAMES.length)
    for (const value of values) expect(value).toEqual({ value: null, reason: 'not_reported' })
  })

  it('says of reported values that nobody described their processing', () => {
    expect(session.sets[3]).toMatchObject({
      origin: 'reported',
      gravityCorrected: 'yes',
      findings: [{ code: 'processing_unknown', level: 'caution' }],
    })
  })

  it('keeps the pushed words, with the samples replaced by the hash of their recording', () => {
    const words = structuredClone(session.pushed) as LooseDocument
    for (const index of [0, 2]) {
      const { sha256, sampleCount, encoding, channels } = words.sets[index].recording
      expect(sha256).toBe(computed(session.sets[index]).recordingSha256)
      expect(sampleCount).toBe(session.recordings.find((recording) => recording.sha256 === sha256)?.sampleCount)
      expect([encoding, channels[1]]).toEqual(
        index === 0 ? ['csv', { name: 'torque', unit: 'N.m' }] : ['values', { name: 'angle', unit: 'deg' }],
      )
      delete words.sets[index].recording
    }
    const expected = structuredClone(document)
    for (const index of [0, 2]) delete expected.sets[index].recording
    expect(words).toEqual(expected)
    expect(JSON.stringify(session.pushed).length).toBeLessThan(15_000)
  })

  it('hashes the whole document in its RFC 8785 form, samples included', () => {
    expect(session.documentHash).toBe(createHash('sha256').update(canonicalize(document)!).digest('hex'))
    const reordered = Object.fromEntries(Object.entries(document as object).reverse())
    expect(prepare(reordered).documentHash).toBe(session.documentHash)
    const nudged = structuredClone(document)
    nudged.sets[2].recording.channels[0].values[100] += 0.1
    expect(prepare(nudged).documentHash).not.toBe(session.documentHash)
  })

  it('analyses what is stored: reading back gives the same analysis to the last bit', () => {
    for (const set of session.sets) {
      if (set.origin !== 'computed') continue
      const { bytes, header, sha256 } = session.recordings.find(
        (recording) => recording.sha256 === set.recordingSha256,
      )!
      const stored = JSON.parse(JSON.stringify(header)) as typeof header
      expect(reanalyse(bytes, stored, set.protocol, sha256)).toEqual(set.analysis)
    }
  })

  it('holds nothing that JSON cannot: no NaN, no infinity, no undefined where a value is promised', () => {
    const { document: typed, setups, sets } = session
    for (const part of [typed, setups, sets]) {
      const back = JSON.parse(JSON.stringify(part)) as unknown
      expect(back).toEqual(part)
    }
  })

  it('judges the setups: axis offset with its interval, seat depth by the rule of thumb, the weighings against each other', () => {
    expect(session.setups[0]).toMatchObject({
      seatDepthSufficient: { verdict: 'yes', reason: null },
      weighingsAgree: { verdict: 'yes', reason: null },
      axisOffset: { verdict: 'not_assessable', reason: 'axis_check_not_performed', forwardMm: null },
    })
    // Three angles, 1 mm of reading error, a mark at unknown distance: the interval is wider than the tolerance leaves room for
    expect(session.setups[1]?.axisOffset).toMatchObject({
      verdict: 'cannot_tell',
      reason: 'interval_reaches_tolerance',
      forwardMm: expect.closeTo(4.2, 1) as number,
      upMm: expect.closeTo(-3.2, 1) as number,
      halfWidthMm: expect.closeTo(6, 0) as number,
    })
    expect(session.setups[1]?.findings.map(({ code }) => code)).toEqual(['pad_travel_slight'])
    const apart = shortSession()
    apart.setups[0].limbWeighing.torque.value = 14.5
    apart.setups[0].seatDepthCheck.calfToSeatGap.value = 1
    apart.setups[1].seatDepthCheck.plannedFlexion.value = 120
    expect(
      prepare(apart).setups.map(({ seatDepthSufficient, weighingsAgree }) => [
        seatDepthSufficient,
        weighingsAgree.verdict,
      ]),
    ).toEqual([
      [{ verdict: 'no', reason: 'gap_below_two_fingers' }, 'no'],
      [{ verdict: 'unknown', reason: 'flexion_beyond_the_rule_of_thumb' }, 'no'],
    ])
  })

  it('does not correct with a weighing done before the last adjustment', () => {
    const moved = shortSession()
    moved.setups[0].limbWeighing.afterLastAdjustment = 'no'
    const [setup] = prepare(moved).setups
    expect(setup?.gravityMomentNm).toEqual({ value: null, reason: 'weighed_before_last_adjustment' })
    expect(computed(prepare(moved).sets[0]).gravity).toBeNull()
  })
})

describe('one recording in three encodings', { timeout: 60_000 }, () => {
  const movement = sampleMovement()
  const recordingOf = (encoding: 'values' | 'f32leBase64' | 'csv', torqueUnit = 'N.m'): LooseDocument => {
    const torque = movement.torqueNm.map((value) => convert(value, 'N.m', torqueUnit))
    if (encoding === 'csv') return { csv: toCsv({ ...movement, torqueNm: torque }).replace('N.m', torqueUnit) }
    const encode = (values: number[]): LooseDocument =>
      encoding === 'values' ? { values } : { f32leBase64: toF32Base64(values) }
    return {
      sampleRate: { value: 1000, unit: 'Hz' },
      channels: [
        { name: 'torque', unit: torqueUnit, ...encode(torque) },
        { name: 'angle', unit: 'deg', ...encode(movement.angleDeg) },
      ],
    }
  }
  const preparedWith = (recording: LooseDocument): Extract<PreparedSet, { origin: 'computed' }> => {
    const document = shortSession()
    const { csv: _csv, ...meaning } = document.sets[0].recording as Record<string, unknown>
    document.sets = [{ ...document.sets[0], recording: { ...meaning, ...recording } }]
    return computed(prepare(document).sets[0])
  }

  it('has one hash and one analysis', () => {
    const [values, base64, csv] = (['values', 'f32leBase64', 'csv'] as const).map((encoding) =>
      preparedWith(recordingOf(encoding)),
    )
    expect(base64!.recordingSha256).toBe(values!.recordingSha256)
    expect(csv!.recordingSha256).toBe(values!.recordingSha256)
    expect(base64!.analysis).toEqual(values!.analysis)
    expect(csv!.analysis).toEqual(values!.analysis)
    expect(values!.directions[0]!.measures.peakTorque?.best?.value).toBeGreaterThan(150)
  })

  it('gives the same measures from foot-pounds as from newton metres', () => {
    const metric = preparedWith(recordingOf('values'))
    const imperial = preparedWith(recordingOf('csv', '[ft_i].[lbf_av]'))
    expect(imperial.recordingSha256).toBe(metric.recordingSha256)
    expect(imperial.directions).toEqual(metric.directions)
  })
})

describe('what is refused, and what is said', { timeout: 60_000 }, () => {
  const bodies: [what: string, body: string, pointer: string, code: string][] = [
    ['1e999', '{"bodyMass": {"value": 1e999, "unit": "kg"}}', '#/bodyMass/value', 'out_of_range'],
    ['a repeated key', '{"bodyMass": {"value": 68, "value": 86, "unit": "kg"}}', '#/bodyMass/value', 'duplicate_key'],
    [
      'a NUL',
      '{"subject": {"identifier": {"system": "s", "value": "RB\\u0000"}}}',
      '#/subject/identifier/value',
      'nul_character',
    ],
    ['a lone surrogate', '{"notes": "\\ud800"}', '#/notes', 'lone_surrogate'],
    ['deep nesting', `{"sets": ${'['.repeat(40)}${']'.repeat(40)}}`, `#/sets${'/0'.repeat(31)}`, 'too_deep'],
    ['a __proto__ key', '{"__proto__": {"admin": true}}', '#/__proto__', 'forbidden_key'],
    ['text that is not JSON', 'torque;angle', '#', 'invalid_json'],
    ['nothing', '', '#', 'invalid_json'],
  ]
  it.each(bodies)('refuses %s', (_what, body, pointer, code) => {
    expect(faultsOf(body).map((fault) => [fault.pointer, fault.code])).toContainEqual([pointer, code])
  })

  it('never pollutes a prototype', () => {
    faultsOf('{"__proto__": {"polluted": 1}, "constructor": {"prototype": {"polluted": 1}}}')
    expect(({} as Record<string, unknown>)['polluted']).toBeUndefined()
  })

  it('says what is wrong inside a recording together with what is wrong elsewhere', () => {
    const document = shortSession()
    document.bodyMass.unit = 'lb'
    document.sets[0].recording.csv = document.sets[0].recording.csv.replace('torque (N.m)', 'torque (Nm)')
    document.sets[1].setup = 'nowhere'
    document.sets[2].recording.channels[0].values[3] = 1e6
    expect(faultsOf(document).map(({ code, pointer }) => `${code} ${pointer}`)).toEqual([
      'unit_not_ucum #/bodyMass/unit',
      'unknown_setup #/sets/1/setup',
      'unit_not_ucum #/sets/0/recording/csv',
      'out_of_range #/sets/2/recording/channels/0/values/3',
    ])
    expect(faultsOf({ reason: 'x', session: document }, 'amendment').map(({ pointer }) => pointer)).toEqual([
      '#/session/bodyMass/unit',
      '#/session/sets/1/setup',
      '#/session/sets/0/recording/csv',
      '#/session/sets/2/recording/channels/0/values/3',
    ])
  })

  it('refuses a note on a repetition that was neither meant nor made', () => {
    const document = exampleSession()
    document.sets[2].repetitionNotes[0].repetition = 6
    expect(faultsOf(document)).toEqual([
      { pointer: '#/sets/2/repetitionNotes/0/repetition', code: 'out_of_range', message: 'The set has 5 repetitions.' },
    ])
  })

  it('stores a recording in which nothing can be measured, with reasons instead of numbers', () => {
    const [set] = prepare(shortSession()).sets
    const { directions, findings } = computed(set)
    expect(directions.map(({ counted }) => counted)).toEqual([0, 0])
    const best = directions[0]?.measures.peakTorque?.best
    expect(best?.value).toBeNull()
    expect(best !== undefined && 'reason' in best ? best.reason : null).toMatch(/^[a-z_]+$/)
    expect(findings.every(({ code }) => /^[a-z_]+$/.test(code))).toBe(true)
  })

  it('holds a recording that was filed under two sets', () => {
    const document = shortSession()
    document.sets[2].recording = structuredClone(document.sets[0].recording)
    const { sets, recordings } = prepare(document)
    expect(recordings).toHaveLength(1)
    for (const index of [0, 2]) {
      expect(sets[index]?.findings).toContainEqual(
        expect.objectContaining({ code: 'recording_repeated', level: 'hold' }),
      )
    }
    expect(sets[1]?.findings.some(({ code }) => code === 'recording_repeated')).toBe(false)
  })

  it('takes the reason of an amendment and hashes its session alone', () => {
    const session = shortSession()
    const preparation = prepareSession(toBytes({ reason: 'Entered on the wrong side.', session }), {
      envelope: 'amendment',
    })
    if (preparation.outcome !== 'prepared') expect.fail(JSON.stringify(preparation))
    expect(preparation.session.amendmentReason).toBe('Entered on the wrong side.')
    expect(preparation.session.documentHash).toBe(prepare(session).documentHash)
    expect(preparation.session.pushed['reason']).toBeUndefined()
  })

  it('refuses more samples in one document than it can work on', { timeout: 60_000 }, () => {
    const {
      sampleRate: _rate,
      channels: _channels,
      ...meaning
    } = shortSession().sets[2].recording as Record<string, unknown>
    const f32leBase64 = toF32Base64(Array.from({ length: 700_000 }, (_, i) => i % 100))
    const recording = {
      ...meaning,
      sampleRate: { value: 5, unit: 'kHz' },
      channels: [
        { name: 'torque', unit: 'N.m', f32leBase64 },
        { name: 'angle', unit: 'deg', f32leBase64 },
      ],
    }
    const document = shortSession()
    const [, , set] = document.sets as Record<string, unknown>[]
    document.sets = ['one', 'two', 'three'].map((key) => ({ ...set, key, recording }))
    expect(faultsOf(document)).toMatchObject([{ code: 'too_many', pointer: '#/sets' }])
  })
})
