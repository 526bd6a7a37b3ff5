import { beforeAll, describe, expect, it } from 'vitest'
import { asker, dataOf } from '../../faces/graphql/ask.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { retestPairs, retests } from '../measurement-errors/retest-pairs.ts'
import { makeWorld, nameBaseline, recorded, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
const part = (name: string, word: string) => (d: LooseDocument) => d.setups.forEach((setup: LooseDocument) => (setup.stabilisation[name] = word)) // prettier-ignore
const daysOf = (tests: readonly LooseDocument[]): string[] => tests.map(({ at }) => String(at).slice(0, 10))

describe('a trend of tests that compare with the latest', () => {
  let world: World
  beforeAll(async () => {
    world = await makeWorld(service)
    const visits = [
      ['2026-05-01', () => {}],
      ['2026-05-08', part('thighStrap', 'light')],
      ['2026-05-15', part('trunkStraps', 'none')],
      ['2026-05-22', part('trunkStraps', 'not_recorded')],
      ['2026-05-29', () => {}],
    ] as const
    for (const [index, [day, change]] of visits.entries()) await world.push(recorded(world.visit(day, { change }), 10 * index)) // prettier-ignore
  }, 60_000)

  it.each([
    ['however they compare', {}, ['2026-05-01', '2026-05-08', '2026-05-15', '2026-05-22', '2026-05-29'], []],
    [
      'with caution',
      { comparability: 'comparable_with_caution' },
      ['2026-05-01', '2026-05-08', '2026-05-29'],
      ['not_comparable', 'not_assessable'],
    ],
    [
      'without',
      { comparability: 'comparable' },
      ['2026-05-01', '2026-05-29'],
      ['comparable_with_caution_only', 'not_comparable', 'not_assessable'],
    ],
    [
      'without, up to a day',
      { comparability: 'comparable', to: '2026-05-08' },
      ['2026-05-08'],
      ['comparable_with_caution_only'],
    ],
    [
      'with caution, between two days',
      { comparability: 'comparable_with_caution', from: '2026-05-02', to: '2026-05-15' },
      ['2026-05-15'],
      ['not_comparable'],
    ],
  ] as const)('%s has these, and names the others with the reason', async (_, ask, days, reasons) => {
    const { points, excluded, runs } = await world.trend('right', ask)
    expect(daysOf(points)).toEqual(days)
    expect(excluded.map((one: LooseDocument) => one.reason)).toEqual(reasons)
    expect(excluded.every((one: LooseDocument) => !one.held)).toBe(true)
    if ('comparability' in ask)
      expect(runs).toMatchObject([
        {
          run: 'A',
          pointCount: days.length,
          comparability: ask.comparability === 'comparable' ? 'comparable' : expect.any(String),
        },
      ])
  })

  it('is the same over GraphQL', async () => {
    const series = 'joint: knee, movement: extension, contractionMode: isokinetic_concentric, contractionScheme: reciprocal, velocity: "60 deg/s", measure: peakTorque, statistic: best' // prettier-ignore
    const shown = 'comparability: comparable, from: "2026-05-01", to: "2026-05-29"'
    const query = `query($id: ID!) { subject(id: $id) {
      strengthTrend(${series}, ${shown}, side: right) { points { at } excluded { at reason } }
      symmetry(${series}, ${shown}) { points { at } } } }`
    const { subject } = await dataOf(asker(service, world.clinic.tokens.clinician)(query, { id: world.subjectId }))
    const ask = { comparability: 'comparable', from: '2026-05-01', to: '2026-05-29' }
    const [trend, symmetry] = [await world.trend('right', ask), await world.symmetry(ask)]
    expect(daysOf(subject.strengthTrend.points)).toEqual(daysOf(trend.points))
    expect(subject.strengthTrend.excluded).toEqual(trend.excluded.map(({ at, reason }: LooseDocument) => ({ at, reason }))) // prettier-ignore
    expect(daysOf(subject.symmetry.points)).toEqual(daysOf(symmetry.points))
  })

  it('is refused for a word that is none', async () => {
    const url = `/v1/subjects/${world.subjectId}/trend?joint=knee&comparability=not_comparable`
    const { status, body } = await world.clinician.get(url)
    expect(status).toBe(400)
    expect(body.errors.map((one: LooseDocument) => one.pointer)).toContain('#/query/comparability')
  })
})

describe('a trend against the baseline that the episode names', () => {
  let world: World
  let last: LooseDocument
  let baseline: LooseDocument
  beforeAll(async () => {
    world = await makeWorld(service)
    await world.owner.post('/v1/measurement-errors', retests(retestPairs(24, 9.5)))
    // Before surgery: the run begins here, and the error of operated limbs does not hold for it
    await world.pushVisit('2026-02-03', { extension: { left: 200, right: 190 } })
    baseline = await world.pushVisit('2026-05-05', { extension: { left: 200, right: 100 } })
    await nameBaseline(world, baseline.session.id)
    await world.pushVisit('2026-06-09', { extension: { left: 200, right: 130 } })
    await world.pushVisit('2026-07-07', { extension: { left: 200, right: 140 }, change: part('trunkStraps', 'none') })
    last = await world.pushVisit('2026-08-04', { extension: { left: 200, right: 150 } })
  }, 60_000)

  it('tells the change since then at every later test, which the start of the run may not be', async () => {
    const { points, multiplicity } = await world.trend('right')
    const since = points.map((point: LooseDocument) => point.changeFromBaseline)
    expect(points.map((point: LooseDocument) => point.baseline)).toEqual([false, true, false, false, false])
    expect(since.slice(0, 2)).toEqual([null, null])
    expect(since[2]).toMatchObject({
      verdict: 'increased',
      difference: { value: 30, unit: 'N.m' },
      meaning: 'better',
      judgedBy: { kind: 'clinic_test_retest' },
    })
    expect(since[4]).toMatchObject({ verdict: 'increased', difference: { value: 50 } })
    // May not be compared: no change, and why
    expect(since[3]).toMatchObject({ verdict: 'undetermined', difference: null, reason: 'not_comparable' })
    expect(points[4].changeFromRunStart).toMatchObject({ verdict: 'undetermined', difference: { value: -40 } })
    // Each pair once: 100 to 130, 130 to 150 and 100 to 150 N.m
    expect(multiplicity).toMatch(/^3 verdicts at 95 %/)
  })

  it('tells it where the baseline itself is not among the days asked for', async () => {
    const { points } = await world.trend('right', { from: '2026-08-01' })
    expect(points).toMatchObject([
      {
        changeFromPrevious: null,
        changeFromRunStart: null,
        changeFromBaseline: { verdict: 'increased', difference: { value: 50 } },
      },
    ])
  })

  it('is what the session is compared with as well, beside the one before', async () => {
    const { body } = await world.clinician.get(`/v1/sessions/${last.session.id}/comparability`)
    const ofRight = body.comparability.filter(
      (entry: LooseDocument) => entry.side === 'right' && entry.movement === 'extension',
    )
    expect(ofRight.map((entry: LooseDocument) => [entry.with, entry.verdicts.peakTorque])).toEqual([
      ['baseline', 'comparable_with_caution'],
      ['previous', 'not_comparable'],
    ])
    expect(ofRight[0].sessionId).toBe(baseline.session.id)
    expect(ofRight[1].reasons[0]).toMatchObject({ factor: 'trunk_straps', effect: 'not_comparable' })
    expect(last.comparability).toEqual(body.comparability)
  })
})
