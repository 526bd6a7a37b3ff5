/* eslint-disable @typescript-eslint/no-unsafe-member-access, @typescript-eslint/no-unsafe-assignment, @typescript-eslint/no-unsafe-call,
   @typescript-eslint/no-unsafe-return --
   documents are taken apart and broken on purpose */
import { describe, expect, it } from 'vitest'
import { createPreparationPool } from '../../../src/application/prepare-session/pool.ts'
import { prepareSession } from '../../../src/application/prepare-session/prepare-session.ts'
import type { PreparationOptions, PreparedSession } from '../../../src/application/prepare-session/prepared-session.ts'
import { packRecording, type StoredRecording } from '../../../src/application/prepare-session/stored-recording.ts'
import type { FieldFault } from '../../../src/domain/errors.ts'
import { sampleMovement, shortSession, toBytes, toCsv, type LooseDocument } from '../../fixtures/example-session.ts'

const words = {
  torquePositive: 'extension',
  anglePositive: 'flexion',
  torqueState: 'measured',
  deviceFilter: 'none',
  deviceWindowing: 'none',
} as const
const declared = { ...words, readingAtAnatomicalZero: { value: 0, unit: 'deg' } }
const MEANING = { ...words, readingAtAnatomicalZeroDeg: 0 }

function prepared(document: unknown, options: PreparationOptions = {}): PreparedSession {
  const preparation = prepareSession(toBytes(document), options)
  if (preparation.outcome !== 'prepared') expect.fail(JSON.stringify(preparation))
  return preparation.session
}

function faultsOf(document: unknown, options: PreparationOptions = {}): readonly FieldFault[] {
  const preparation = prepareSession(toBytes(document), options)
  if (preparation.outcome !== 'refused') expect.fail(preparation.outcome)
  return preparation.faults
}

/** The left limb pushed and pulled; the right one rested. */
const effort = toCsv(sampleMovement({ extensionNm: 171, seed: 7, sampleRateHz: 200 }))
function sentSession(): LooseDocument {
  const document = shortSession()
  document.sets[0].recording.csv = effort
  return document
}

const whole = prepared(sentSession())
const stored: readonly StoredRecording[] = whole.recordings

/** The same visit, whose recordings are here already. */
function referring(change: (document: LooseDocument) => void = () => {}): LooseDocument {
  const document = sentSession()
  document.sets.forEach((set: LooseDocument, index: number) => {
    const reference = whole.document.sets[index]?.recording
    if (reference === undefined) return
    const { csv: _csv, channels: _channels, sampleRate: _rate, ...said } = set.recording
    set.recording = { ...said, storedSha256: reference.sha256 }
  })
  change(document)
  return document
}

const referred = referring().sets.flatMap((set: LooseDocument) => set.recording?.storedSha256 ?? []) as string[]

describe('a document that refers to stored recordings', { timeout: 60_000 }, () => {
  it('is answered first with what it refers to, each once, and is given back', () => {
    const bytes = toBytes(referring((document) => (document.sets[2].recording = document.sets[0].recording)))
    expect(referred).toHaveLength(2)
    expect(prepareSession(bytes)).toEqual({ outcome: 'recordings_wanted', sha256s: [referred[0]], bytes })
  })

  it('comes to the last bit to what its samples came to', () => {
    const again = prepared(referring(), { stored })
    expect(again.sets).toEqual(whole.sets)
    expect(again.recordings).toEqual(whole.recordings)
    expect(again.setups).toEqual(whole.setups)
    expect(again.document.unknownRecordings).toEqual([])
  })

  it('is another document, of the same hash each time', () => {
    const again = prepared(referring(), { stored })
    expect(again.documentHash).toBe(prepared(referring(), { stored }).documentHash)
    expect(again.documentHash).not.toBe(whole.documentHash)
  })

  it('keeps the reference beside what every recording keeps, in the channels and units of what is stored', () => {
    const { pushed, document } = prepared(referring(), { stored })
    const [first] = pushed['sets'] as LooseDocument[]
    const kept = { encoding: 'stored', storedSha256: referred[0], sha256: referred[0], channels: [{ name: 'torque', unit: 'N.m' }, { name: 'angle', unit: 'deg' }], sampleCount: stored[0]?.header.sampleCount } // prettier-ignore
    expect(first?.recording).toEqual({ ...declared, ...kept })
    expect(document.sets[0]?.recording).toMatchObject(kept)
  })

  it('may correct what the samples mean: as if they had been sent with it, under the hash of that', () => {
    const turn = (document: LooseDocument) => (document.sets[0].recording.torquePositive = 'flexion')
    const sent = sentSession()
    turn(sent)
    const corrected = prepared(referring(turn), { stored })
    const expected = prepared(sent)
    expect(corrected.sets).toEqual(expected.sets)
    expect(corrected.recordings).toEqual(expected.recordings)
    expect(corrected.sets[0]?.recordingSha256).not.toBe(referred[0])
    expect(corrected.sets[0]?.directions).not.toEqual(whole.sets[0]?.directions)
    expect((corrected.pushed['sets'] as LooseDocument[])[0]?.recording).toMatchObject({ storedSha256: referred[0], sha256: corrected.sets[0]?.recordingSha256 }) // prettier-ignore
  })

  it('under two sets is a recording filed twice', () => {
    const twice = referring((document) => (document.sets[2].recording.storedSha256 = referred[0]))
    const codes = prepared(twice, { stored }).sets.map(({ findings }) => findings.map(({ code }) => code))
    expect(codes.map((each) => each.includes('recording_repeated'))).toEqual([true, false, true, false])
  })

  it('keeps the times of a recording that was sampled unevenly', () => {
    const uneven = packRecording(
      {
        timeUs: Int32Array.from([0, 9_000, 21_000]),
        sampleRateHz: null,
        torqueNm: new Float32Array(3),
        angleDeg: new Float32Array(3),
        velocityDegS: null,
      },
      MEANING,
    )
    const document = referring((copy) => (copy.sets[0].recording.storedSha256 = uneven.sha256))
    const session = prepared(document, { stored: [...stored, uneven] })
    expect(session.sets[0]?.recordingSha256).toBe(uneven.sha256)
    expect(session.document.sets[0]?.recording?.channels[0]).toEqual({ name: 'time', unit: 's' })
  })

  it('of which one is not known has no results, and says in which set', () => {
    const session = prepared(referring(), { stored: stored.slice(1) })
    expect(session.document.unknownRecordings).toEqual([0])
    expect([session.sets, session.pushed['sets']]).toEqual([[], [referring().sets[0], ...(session.pushed['sets'] as []).slice(1)]]) // prettier-ignore
  })

  it('with a fault elsewhere is told of the fault before anything is looked up', () => {
    const broken = referring((document) => {
      document.startedAt = 'yesterday'
      document.sets[2].recording = { ...sentSession().sets[2].recording, channels: undefined, csv: 'time (s),torque (N.m)\n' } // prettier-ignore
      delete document.sets[2].recording.sampleRate
    })
    expect(faultsOf(broken).map(({ pointer, code }) => [pointer, code])).toEqual([
      ['#/startedAt', expect.any(String)],
      ['#/sets/2/recording/csv', 'missing'],
    ])
  })

  it.each([
    ['channels', sentSession().sets[2].recording.channels],
    ['csv', effort],
  ])('has no %s as well', (name, samples) => {
    const document = referring((copy) => (copy.sets[0].recording[name] = samples))
    expect(faultsOf(document)[0]).toMatchObject({ pointer: '#/sets/0/recording', code: 'exactly_one' })
  })

  it('has no sample rate: that is one of the stored recording', () => {
    const document = referring((copy) => (copy.sets[0].recording.sampleRate = { value: 1000, unit: 'Hz' }))
    expect(faultsOf(document)).toMatchObject([{ pointer: '#/sets/0/recording/sampleRate', code: 'not_applicable' }])
  })

  it.each(['', 'A'.repeat(64), 'a'.repeat(63), `${'a'.repeat(64)}\n`, 7, null])('writes no hash as %j', (hash) => {
    const document = referring((copy) => (copy.sets[0].recording.storedSha256 = hash))
    expect(faultsOf(document).map(({ pointer }) => pointer)).toEqual(['#/sets/0/recording/storedSha256'])
  })

  it('says what its samples mean, as every document does', () => {
    const document = referring((copy) => (copy.sets[0].recording = { storedSha256: referred[0] }))
    const pointers = Object.keys(declared).map((name) => `#/sets/0/recording/${name}`)
    expect(new Set(faultsOf(document).map(({ pointer }) => pointer))).toEqual(new Set(pointers))
  })

  it('is held to the samples of one document, whoever sent them', () => {
    const samples = 700_000
    const long = packRecording(
      {
        timeUs: null,
        sampleRateHz: 5000,
        torqueNm: new Float32Array(samples),
        angleDeg: new Float32Array(samples),
        velocityDegS: null,
      },
      MEANING,
    )
    const document = referring((copy) => {
      copy.sets[0].recording.storedSha256 = long.sha256
      copy.sets = ['one', 'two', 'three'].map((key) => ({ ...copy.sets[0], key }))
    })
    expect(faultsOf(document, { stored: [long] })).toMatchObject([{ pointer: '#/sets', code: 'too_many' }])
    expect(faultsOf({ reason: 'Longer.', session: document }, { stored: [long], envelope: 'amendment' })).toMatchObject([{ pointer: '#/session/sets', code: 'too_many' }]) // prettier-ignore
  })

  it('is prepared in a worker as it is here, with the document handed there, back and there again', async () => {
    const pool = createPreparationPool({ threads: 1, maxQueue: 4, timeLimitMs: 20_000 })
    try {
      const first = await pool.prepare(toBytes(referring()))
      if (first.outcome !== 'recordings_wanted') expect.fail(first.outcome)
      expect(first.sha256s).toEqual(referred)
      expect(await pool.prepare(first.bytes, { stored })).toEqual({ outcome: 'prepared', session: prepared(referring(), { stored }) }) // prettier-ignore
      const broken = stored.map((recording) => ({ ...recording, bytes: recording.bytes.slice(0, 100) }))
      await expect(pool.prepare(toBytes(referring()), { stored: broken })).rejects.toMatchObject({ code: 'internal' })
    } finally {
      await pool.close()
    }
  })
})
