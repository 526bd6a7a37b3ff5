import { describe, expect, it } from 'vitest'
import { brokenPrecautions, inWords, type LimbTest } from '../../../src/application/setups/broken-precautions.ts'
import type { EpisodeRow } from '../../../src/store/episode-store.ts'

const degrees = (value: number) => ({ value, unit: 'deg' })
const canonical = (value: number) => ({ ...degrees(value), canonicalValue: value, canonicalUnit: 'deg' })

/** Surgery of the right hip on 2026-02-10. */
const episode = (precautions: readonly object[], change: Partial<EpisodeRow> = {}): EpisodeRow => ({
  id: 'e',
  version: 1,
  subjectId: 's',
  joint: 'hip',
  involvedSide: 'right',
  status: 'active',
  injuredOn: null,
  surgeryOn: '2026-02-10',
  criteriaSet: null,
  baselineSessionId: null,
  document: { precautions: precautions.map((one) => ({ setBy: 'surgeon', ...one })), externalId: 7 },
  recordedAt: new Date(0),
  recordedBy: 'p',
  supersededAt: null,
  ...change,
})

const test = (movement: LimbTest['directions'][number]['movement'], stops: Record<string, number>): LimbTest => ({
  side: 'right',
  directions: [{ movement, contractionMode: 'isokinetic_concentric' }],
  stops: Object.fromEntries(Object.entries(stops).map(([name, value]) => [name, canonical(value)])),
  withoutStops: 'breaks_range_limits',
})
const broken = (of: EpisodeRow, done: LimbTest, on = '2026-05-05') =>
  brokenPrecautions(of, done, on).map(({ kind }) => kind)

describe('a range limit', () => {
  const flexion = { kind: 'range_limit', movement: 'flexion', lowest: degrees(0), highest: degrees(90) }

  it('is held against the stops of its own pair of movements', () => {
    const both = { extension: 0, flexion: 90, adduction: -20, abduction: 40 }
    expect(broken(episode([flexion]), test('flexion', both))).toEqual([])
    expect(broken(episode([flexion]), test('flexion', { ...both, flexion: 91 }))).toEqual(['range_limit'])
    expect(broken(episode([flexion]), test('abduction', both))).toEqual([])
  })

  it('is not kept by the stops of another pair, where its own were left out', () => {
    expect(broken(episode([flexion]), test('flexion', { adduction: 0, abduction: 40 }))).toEqual(['range_limit'])
  })

  it('ends with its week; a surgery without a date leaves it in force', () => {
    const until = episode([{ ...flexion, untilWeek: 12 }])
    const wide = test('flexion', { extension: 0, flexion: 120 })
    expect(broken(until, wide, '2026-05-04')).toEqual(['range_limit'])
    expect(broken(until, wide, '2026-05-05')).toEqual([])
    expect(broken({ ...until, surgeryOn: null }, wide, '2030-01-01')).toEqual(['range_limit'])
  })
})

describe('an earliest week', () => {
  const week = { kind: 'earliest_week', week: 12 }
  const any = test('flexion', { extension: 0, flexion: 90 })

  it('is the day itself: eleven weeks and six days are too few, twelve weeks are not', () => {
    expect(broken(episode([week]), any, '2026-05-04')).toEqual(['earliest_week'])
    expect(broken(episode([week]), any, '2026-05-05')).toEqual([])
  })

  it('says nothing about a test before the operation', () => {
    expect(broken(episode([week]), any, '2026-02-09')).toEqual([])
    expect(broken(episode([week]), any, '2026-02-10')).toEqual(['earliest_week'])
  })

  it('speaks of the involved limb alone, or of both', () => {
    const left = { ...any, side: 'left' } as const
    expect(broken(episode([week]), left, '2026-03-01')).toEqual([])
    for (const involvedSide of ['bilateral', 'none'] as const)
      expect(broken(episode([week], { involvedSide }), left, '2026-03-01')).toEqual(['earliest_week'])
  })
})

describe('a precaution on record', () => {
  it('is read although a rule of today would refuse it, and although other fields of its episode would be', () => {
    const upsideDown = episode([{ kind: 'range_limit', lowest: degrees(90), highest: degrees(0) }])
    expect(broken(upsideDown, test('flexion', { extension: 0, flexion: 90 }))).toEqual(['range_limit'])
  })

  it('is said in words', () => {
    const said = brokenPrecautions(
      episode([{ kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_concentric', untilWeek: 20 }]),
      test('flexion', {}),
      '2026-03-01',
    )
    expect(said.map(inWords)).toEqual(['isokinetic concentric, any movement: not to be tested until week 20 after surgery']) // prettier-ignore
  })
})
