import { describe, expect, it } from 'vitest'
import { encodeRecording } from '../../src/demo/recording-encodings.ts'
import { buildScenario } from '../../src/demo/scenario.ts'
import { checkSession } from '../../src/domain/check-session.ts'
import { dynamometerDocument } from '../../src/domain/dynamometer-document.ts'
import { episodeDocument } from '../../src/domain/episode-document.ts'
import { subjectDocument } from '../../src/domain/subject-document.ts'
import { simulateRecording } from '../../src/demo/simulator/simulate-recording.ts'

const TODAY = new Date('2026-12-01T12:00:00Z')
const scenario = buildScenario(20261125, TODAY)
const documentOf = (key: string) => scenario.visits.find((visit) => visit.key === key)!.document

/** No undefined, NaN or infinity, nothing that JSON would drop or change. */
function isPlainJson(value: unknown): boolean {
  if (typeof value === 'number') return Number.isFinite(value) && !Object.is(value, -0)
  if (Array.isArray(value)) return value.every(isPlainJson)
  if (typeof value === 'object' && value !== null) return Object.values(value).every(isPlainJson)
  return typeof value === 'string' || typeof value === 'boolean'
}

describe('the scenario', { timeout: 60_000 }, () => {
  it('is the same for the same seed and day, and another for another seed', () => {
    // As text: an assertion over a million numbers one by one takes half a minute.
    expect(JSON.stringify(buildScenario(20261125, TODAY)) === JSON.stringify(scenario)).toBe(true)
    const other = buildScenario(7, TODAY).visits[0]!.document.sets[0]!.recording!
    expect(JSON.stringify(other)).not.toBe(JSON.stringify(scenario.visits[0]!.document.sets[0]!.recording))
  })

  it('has a quiet knee before surgery and five visits from the third to the ninth month after it, in order', () => {
    const surgery = Date.parse(scenario.episode.surgeryOn)
    const months = scenario.visits.map(({ document }) => (Date.parse(document.startedAt) - surgery) / 86_400_000 / 30.4)
    expect(months).toHaveLength(6)
    expect(months[0]!).toBeLessThan(0)
    expect(months[1]!).toBeGreaterThanOrEqual(2.9)
    expect(months[5]!).toBeLessThanOrEqual(9.1)
    expect(months).toEqual([...months].sort((a, b) => a - b))
    const daysBeforeToday = (TODAY.getTime() - Date.parse(documentOf('month-9').startedAt)) / 86_400_000
    expect(daysBeforeToday).toBeGreaterThan(1)
    expect(daysBeforeToday).toBeLessThan(7)
  })

  it('tests both knees at 60 and 180 deg/s in every visit, and at 300 in the later ones', () => {
    const later = ['month-6', 'month-7', 'month-9']
    for (const { key, document } of scenario.visits) {
      const speeds = later.includes(key) ? [60, 180, 300] : [60, 180]
      const wanted = ['left', 'right'].flatMap((side) => speeds.map((speed) => `${side}-${speed}`))
      expect(document.sets.map((set) => set.key)).toEqual(wanted)
    }
  })

  it('uses all three encodings, at 1 kHz, and keeps every body below 2 MB', () => {
    const encodings = new Set<string>()
    for (const { document } of scenario.visits) {
      expect(JSON.stringify(document).length).toBeLessThan(2_000_000)
      for (const { recording } of document.sets) {
        if (recording!.csv !== undefined) {
          encodings.add('csv')
          expect(
            recording!.csv
              .split('\n')
              .slice(1, 3)
              .map((row) => row.split(',')[0]),
          ).toEqual(['0.000', '0.001'])
        } else {
          encodings.add(recording!.channels![0]!.values === undefined ? 'f32leBase64' : 'channels')
          expect(recording!.sampleRate).toEqual({ value: 1000, unit: 'Hz' })
        }
      }
    }
    expect([...encodings].sort()).toEqual(['channels', 'csv', 'f32leBase64'])
  })

  it('survives JSON unchanged: no undefined, no NaN, no number out of range', () => {
    for (const { document } of scenario.visits) expect(isPlainJson(document)).toBe(true)
  })

  it('differs from a good visit in its one mishap only', () => {
    const good = JSON.stringify(documentOf('month-4'))
    const wrong = JSON.stringify(scenario.variants.wrongUnit)
    expect(wrong).toContain('"Nm"')
    expect(wrong.replaceAll('"Nm"', '"N.m"') === good).toBe(true)

    const { amendment } = scenario.variants
    const mistyped = { ...amendment.session, bodyMass: { value: 69.4, unit: 'kg' } }
    expect(JSON.stringify(mistyped) === JSON.stringify(documentOf(amendment.visit))).toBe(true)
    expect(amendment.session.bodyMass).toEqual({ value: 64.9, unit: 'kg' })

    const straps = scenario.visits.map(({ document }) =>
      document.setups.map((setup) => setup.stabilisation.trunkStraps),
    )
    expect(straps.map(([left]) => left)).toEqual(['both', 'both', 'both', 'none', 'both', 'both'])
    expect(straps.every(([left, right]) => left === right)).toBe(true)
  })

  it('reports every torque of the printout in the same wrong unit', () => {
    const { footPoundsAsNewtonMetres: printout } = scenario.variants
    const values = printout.sets.flatMap(
      (set) => (set.reported as { values: { quantity: { value: number; unit: string } }[] }).values,
    )
    expect(values).toHaveLength(8)
    expect(new Set(values.map(({ quantity }) => quantity.unit))).toEqual(new Set(['N.m']))
    // Left extension at 60 deg/s is about 157 N.m; in foot-pounds that is 115.8.
    expect(values[0]!.quantity.value).toBe(115.8)
  })
})

describe('the documents of the scenario', { timeout: 60_000 }, () => {
  it.each([
    ...scenario.visits.map(({ key, document }) => [key, document] as const),
    ['printout', scenario.variants.footPoundsAsNewtonMetres] as const,
    ['observation', scenario.laterObservation] as const,
  ])('are accepted by the shape and the rules of a session: %s', (_key, document) => {
    expect(checkSession(document, 'session')).toMatchObject({ ok: true })
  })

  it('carry an amendment that is accepted, with its reason', () => {
    const { reason, session } = scenario.variants.amendment
    expect(checkSession({ reason, session }, 'amendment')).toMatchObject({ ok: true, amendmentReason: reason })
  })

  it('are refused for "Nm" at each of the six places, and for nothing else', () => {
    const checked = checkSession(scenario.variants.wrongUnit, 'session')
    const faults = checked.ok ? [] : checked.faults
    expect(faults.map(({ pointer }) => pointer)).toEqual([
      '#/setups/0/limbWeighing/torque/unit',
      '#/setups/1/limbWeighing/torque/unit',
      '#/sets/0/recording/channels/0/unit',
      '#/sets/1/recording/channels/0/unit',
      '#/sets/2/recording/channels/0/unit',
      '#/sets/3/recording/channels/0/unit',
    ])
    for (const fault of faults) expect(fault).toMatchObject({ code: 'unit_not_ucum', suggestion: 'N.m' })
  })

  it('describe subject, episode and machine in the shapes of their resources', () => {
    expect(subjectDocument.safeParse(scenario.subject).error).toBeUndefined()
    expect(episodeDocument.safeParse(scenario.episode).error).toBeUndefined()
    expect(dynamometerDocument.safeParse(scenario.dynamometer).error).toBeUndefined()
  })
})

describe('the encodings', () => {
  const recording = simulateRecording({ repetitions: 1, torqueNoiseNm: 1 })

  it('keep every sample to the precision they state', () => {
    const { channels } = encodeRecording(recording, 'channels')
    const packed = encodeRecording(recording, 'f32leBase64').channels!
    const rows = encodeRecording(recording, 'csv').csv!.trimEnd().split('\n')
    expect(rows[0]).toBe('time (s),torque (N.m),angle (deg)')
    expect(rows).toHaveLength(recording.timeS.length + 1)
    for (const [index, samples] of [recording.torqueNm, recording.angleDeg, recording.velocityDegS].entries()) {
      const decimals = index === 2 ? 0.05 : 0.005
      const bytes = Buffer.from(packed[index]!.f32leBase64!, 'base64')
      expect(bytes.length).toBe(4 * samples.length)
      samples.forEach((sample, i) => {
        if (Math.abs(channels![index]!.values![i]! - sample) > decimals + 1e-9) throw new Error(`channel sample ${i}`)
        if (bytes.readFloatLE(4 * i) !== Math.fround(sample)) throw new Error(`packed sample ${i}`)
        if (index < 2 && Math.abs(Number(rows[i + 1]!.split(',')[index + 1]) - sample) > decimals + 1e-9) {
          throw new Error(`CSV row ${i}`)
        }
      })
    }
  })
})
