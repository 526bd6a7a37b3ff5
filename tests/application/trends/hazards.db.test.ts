import { describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, type VisitOptions, type World, type WorldOptions } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())

const FOOT_POUND = 1.3558179483314004
const weighed = (left: number, right: number) => (d: LooseDocument) => {
  d.setups[0].limbWeighing.torque.value = left
  d.setups[1].limbWeighing.torque.value = right
}
const usual: VisitOptions = { extension: { left: 174, right: 150 }, flexion: { left: 92, right: 80 }, change: weighed(11.6, 9.7) } // prettier-ignore
const first = (d: LooseDocument) => (d.conditions.familiarisation = 'none')

/** Two visits in order, unless it is the first that counts, and one with the hazard. */
async function visited(world: World, hazard: VisitOptions, history = 2): Promise<LooseDocument> {
  for (let n = 1; n <= history; n++) await world.pushVisit(`2026-06-0${n}`, usual)
  return world.pushVisit('2026-07-01', { ...usual, ...hazard })
}

interface Case {
  readonly code: string
  readonly hazard: VisitOptions
  readonly world?: WorldOptions
  readonly history?: number
}

const HOLDS: readonly Case[] = [
  { code: 'possible_unit_error', hazard: { extension: { left: 172 / FOOT_POUND, right: 151 / FOOT_POUND }, flexion: { left: 92 / FOOT_POUND, right: 80 / FOOT_POUND } } }, // prettier-ignore
  { code: 'possible_side_swap', hazard: { extension: { left: 150, right: 174 }, flexion: { left: 80, right: 92 }, change: weighed(9.7, 11.6) } }, // prettier-ignore
  { code: 'pain_limited', hazard: { change: (d) => (d.screening.pain.during.value = 5) } },
]

const BESIDE: readonly Case[] = [
  { code: 'calibration_unknown', hazard: {}, world: { calibrated: false } },
  { code: 'not_gravity_corrected', hazard: { change: (d) => d.sets.forEach((set: LooseDocument) => (set.reported.torqueState = 'measured')) } }, // prettier-ignore
  { code: 'first_session', hazard: { change: first }, history: 0 },
]

describe('in a trend', () => {
  it('a visit with nothing amiss has no flag', async () => {
    const world = await makeWorld(service)
    await visited(world, {})
    const { points, excluded } = await world.trend('right')
    expect([points.map((point: LooseDocument) => point.flags), excluded]).toEqual([[[], [], []], []])
  })

  it('pain and effusion of the day stand beside the visit, the effusion of that knee', async () => {
    const world = await makeWorld(service)
    const effusion = [
      { joint: 'knee', side: 'left', before: 'none' },
      { joint: 'knee', side: 'right', before: 'trace', after: 'one_plus' },
      { joint: 'ankle', side: 'right', before: 'none', after: 'none' },
    ]
    await visited(world, { change: (d) => Object.assign(d.screening, { effusion, pain: { ...d.screening.pain, during: { value: 2, unit: '{score}' } } }) }) // prettier-ignore
    const [right, left] = await Promise.all((['right', 'left'] as const).map(async (side) => (await world.trend(side)).points)) // prettier-ignore
    expect(right.map((point: LooseDocument) => point.effusion)).toEqual([null, null, { before: 'trace', after: 'one_plus' }]) // prettier-ignore
    expect(left.at(-1)).toMatchObject({ painDuring: { value: 2, unit: '{score}' }, effusion: { before: 'none', after: null } }) // prettier-ignore
  })

  it.each(HOLDS)('$code keeps the visit out, with the reason, until a clinician has looked', async (one) => {
    const world = await makeWorld(service)
    const { session, flags } = await visited(world, one.hazard)
    const before = await world.trend('right')
    expect(before.points).toHaveLength(2)
    expect(before.excluded).toMatchObject([{ sessionId: session.id, reason: one.code, held: true }])
    for (const { id } of flags.filter((flag: LooseDocument) => flag.level === 'hold')) {
      const resolved = await world.clinician.post(`/v1/flags/${id}/resolution`, { status: 'dismissed', reason: 'Looked at the printout' }) // prettier-ignore
      expect(resolved.status, resolved.text).toBe(201)
    }
    const after = await world.trend('right')
    // Pain makes a test comparable with nothing, whoever looked; the others are points like any other
    expect(after.points.map((point: LooseDocument) => point.sessionId)).toContain(session.id)
    expect(after.excluded).toEqual([])
  })

  it.each(BESIDE)('$code stands beside the visit, which counts', async (one) => {
    const world = await makeWorld(service, one.world)
    const { session } = await visited(world, one.hazard, one.history)
    const { points, excluded } = await world.trend('right')
    expect(excluded).toEqual([])
    expect(points.find((point: LooseDocument) => point.sessionId === session.id).flags).toContain(one.code)
  })
})
