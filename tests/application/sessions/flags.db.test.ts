import { beforeAll, beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { codesOf, makeWorld, recorded, worldIn, type Limbs, type VisitOptions, type World, type WorldOptions } from './documents.ts' // prettier-ignore

const service = await makeTestService(await testDatabase())
// A subject and a machine for each case: a history is a subject's own.
let clinic: FreshClinic
let subjects = 0
beforeAll(async () => {
  clinic = await freshClinic(service)
})

interface Case {
  readonly code: string
  readonly level: 'note' | 'caution' | 'hold'
  /** What the flag points at: a place of the document, or results by "side movement". */
  readonly at: readonly string[]
  readonly world?: WorldOptions
  /** Visits before; none when absent. */
  readonly history?: readonly VisitOptions[]
  readonly raises: VisitOptions
  /** As near to it as can be, without raising it. */
  readonly raisesNot: VisitOptions
  readonly calm?: WorldOptions
}

const change = (edit: (document: LooseDocument) => void): VisitOptions => ({ change: edit })
const HISTORY: readonly VisitOptions[] = [{}, { extension: { left: 174, right: 153 } }]
const times = ({ left, right }: Limbs, factor: number): Limbs => ({ left: left * factor, right: right * factor })
const EXTENSION = { left: 172, right: 151.5 }
const FLEXION = { left: 92, right: 84 }
/** What a foot-pound is in N.m. */
const FOOT_POUND = 1.3558179483314004
const BOTH = ['left extension', 'left flexion', 'right extension', 'right flexion']
const reportedIs = (edit: (reported: LooseDocument) => void): VisitOptions =>
  change((d) => d.sets.forEach((set: LooseDocument) => edit(set.reported)))
const asRecorded = (edit: (document: LooseDocument) => void = () => {}): VisitOptions =>
  change((d) => edit(recorded(d)))
const precaution = (one: LooseDocument): WorldOptions => ({
  episode: (body) => (body.precautions = [{ setBy: 'surgeon', ...one }]),
})
/** Surgery of the episode is on 2026-02-10, the visit on 2026-11-10: 39 weeks. */
const WEEKS = 39

const CASES: readonly Case[] = [
  {
    code: 'possible_unit_error',
    level: 'hold',
    at: BOTH,
    history: HISTORY,
    raises: { extension: times(EXTENSION, 1 / FOOT_POUND), flexion: times(FLEXION, 1 / FOOT_POUND) },
    // One leg alone is ordinary: a unit error cannot spare the other.
    raisesNot: { extension: { left: 172, right: 151.5 / FOOT_POUND }, flexion: { left: 92, right: 84 / FOOT_POUND } },
  },
  {
    code: 'possible_unit_error',
    level: 'hold',
    at: ['left extension 180'],
    history: [{ velocitiesDegS: [60, 180] }, { velocitiesDegS: [60, 180] }],
    // A single value, of a velocity, in inch-pounds, while the same limb is unchanged in the other velocity
    raises: { velocitiesDegS: [60, 180], change: (d) => (d.sets[1].reported.values[0].quantity.value = 170 * 8.85) },
    raisesNot: { velocitiesDegS: [60, 180], change: (d) => (d.sets[1].reported.values[0].quantity.value = 170 * 1.36) },
  },
  {
    code: 'possible_unit_error',
    level: 'hold',
    at: ['#/bodyMass'],
    history: HISTORY,
    raises: change((d) => (d.bodyMass.value = 150.8)),
    raisesNot: change((d) => (d.bodyMass.value = 70)),
  },
  {
    code: 'body_mass_changed',
    level: 'note',
    at: ['#/bodyMass'],
    history: HISTORY,
    raises: change((d) => (d.bodyMass.value = 72.5)),
    raisesNot: change((d) => (d.bodyMass.value = 71.8)),
  },
  {
    code: 'possible_side_swap',
    level: 'hold',
    at: BOTH,
    history: HISTORY.map((visit) => ({ ...visit, flexion: { left: 92, right: 80 }, change: lighterRight })),
    raises: { extension: { left: 150, right: 171 }, flexion: { left: 81, right: 93 }, change: lighterLeft },
    // The muscles flip, and the limbs weigh what they weighed: the strong one got hurt.
    raisesNot: { extension: { left: 150, right: 171 }, flexion: { left: 81, right: 93 }, change: lighterRight },
  },
  {
    code: 'pain_limited',
    level: 'hold',
    at: BOTH,
    raises: change((d) => (d.screening.pain.during.value = 4)),
    raisesNot: change((d) => (d.screening.pain.during.value = 3)),
  },
  {
    code: 'pain_not_recorded',
    level: 'caution',
    at: ['#/screening/pain/during'],
    raises: change((d) => delete d.screening.pain.during),
    raisesNot: change((d) => (d.screening.pain.during.value = 0)),
  },
  {
    code: 'seat_depth_gap',
    level: 'caution',
    at: ['#/setups/1/seatDepthCheck'],
    raises: change((d) => (d.setups[1].seatDepthCheck.calfToSeatGap = { value: 29, unit: 'mm' })),
    raisesNot: change((d) => (d.setups[1].seatDepthCheck.calfToSeatGap = { value: 30, unit: 'mm' })),
  },
  {
    code: 'seat_depth_gap',
    level: 'caution',
    at: ['#/setups/0/seatDepthCheck'],
    raises: change((d) => (d.setups[0].seatDepthCheck.plannedFlexion.value = 105)),
    raisesNot: change((d) => (d.setups[0].seatDepthCheck.plannedFlexion.value = 100)),
  },
  {
    code: 'screening_incomplete',
    level: 'note',
    at: ['#/screening'],
    raises: change((d) => (d.screening.answers[3].answer = 'not_asked')),
    raisesNot: change((d) => (d.screening.answers[3].note = 'Asked twice.')),
  },
  {
    code: 'screening_incomplete',
    level: 'note',
    at: ['#/screening'],
    raises: change((d) => d.screening.answers.pop()),
    raisesNot: {},
  },
  {
    code: 'contraindication_reported',
    level: 'caution',
    at: ['#/screening/answers/2'],
    raises: change((d) => (d.screening.answers[2].answer = 'yes')),
    raisesNot: change((d) => (d.screening.answers[2].answer = 'no')),
  },
  {
    code: 'precaution_broken',
    level: 'caution',
    at: ['#/sets/1'],
    world: precaution({ kind: 'earliest_week', week: WEEKS + 1, movement: 'extension' }),
    raises: {},
    raisesNot: {},
    calm: precaution({ kind: 'earliest_week', week: WEEKS, movement: 'extension' }),
  },
  {
    code: 'precaution_broken',
    level: 'caution',
    at: ['#/sets/1'],
    world: precaution({
      kind: 'range_limit',
      lowest: { value: 10, unit: 'deg' },
      highest: { value: 100, unit: 'deg' },
    }),
    raises: {},
    raisesNot: change((d) => (d.setups[1].stops.extension.value = 10)),
  },
  {
    code: 'precaution_broken',
    level: 'caution',
    at: ['#/sets/1'],
    world: precaution({ kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_concentric', untilWeek: WEEKS + 1 }), // prettier-ignore
    raises: {},
    // The other limb is no one's precaution.
    raisesNot: { sides: ['left'] },
  },
  {
    code: 'calibration_unknown',
    level: 'note',
    at: ['#/dynamometer'],
    world: { calibrated: false },
    raises: {},
    raisesNot: {},
    calm: {},
  },
  {
    code: 'first_session',
    level: 'note',
    at: ['#/conditions/familiarisation'],
    raises: change((d) => (d.conditions.familiarisation = 'none')),
    raisesNot: change((d) => (d.conditions.familiarisation = 'earlier_session')),
  },
  {
    code: 'processing_unknown',
    level: 'caution',
    at: BOTH,
    raises: reportedIs((reported) => (reported.deviceFilter = 'unknown')),
    raisesNot: reportedIs((reported) => (reported.deviceFilter = 'applied')),
  },
  {
    code: 'processing_unknown',
    level: 'caution',
    // Nothing of the flexion was reported, so there is nothing to say about its processing.
    at: ['left extension', 'right extension'],
    raises: reportedIs((reported) => {
      reported.deviceFilter = 'unknown'
      reported.values = [reported.values[0]]
    }),
    raisesNot: reportedIs((reported) => (reported.values = [reported.values[0]])),
  },
  {
    code: 'not_gravity_corrected',
    level: 'caution',
    at: BOTH,
    raises: reportedIs((reported) => (reported.torqueState = 'measured')),
    raisesNot: {},
  },
  {
    code: 'gravity_not_corrected',
    level: 'caution',
    at: ['right extension', 'right flexion'],
    raises: asRecorded((d) => delete d.setups[1].limbWeighing),
    raisesNot: asRecorded(),
  },
  {
    code: 'gravity_correction_unknown',
    level: 'caution',
    at: ['left extension', 'left flexion'],
    raises: asRecorded((d) => (d.sets[0].recording.torqueState = 'unknown')),
    raisesNot: asRecorded(),
  },
  {
    code: 'recording_repeated',
    level: 'hold',
    at: BOTH,
    raises: asRecorded((d) => (d.sets[1].recording = structuredClone(d.sets[0].recording))),
    raisesNot: asRecorded(),
  },
  {
    code: 'windowed_by_device',
    level: 'caution',
    at: ['left extension', 'left flexion'],
    raises: asRecorded((d) => (d.sets[0].recording.deviceWindowing = 'applied')),
    raisesNot: asRecorded(),
  },
  {
    code: 'repetition_count_differs',
    level: 'note',
    at: ['right extension', 'right flexion'],
    raises: asRecorded((d) => (d.sets[1].intendedRepetitions = 6)),
    raisesNot: asRecorded(),
  },
  {
    code: 'repetitions_vary',
    level: 'note',
    at: ['left extension'],
    raises: asRecorded((d) => weaken(d.sets[0].recording, 2, 0.6)),
    raisesNot: asRecorded((d) => weaken(d.sets[0].recording, 2, 0.95)),
  },
  {
    code: 'angle_range_differs',
    level: 'caution',
    at: BOTH,
    raises: asRecorded((d) => d.setups.forEach((s: LooseDocument) => (s.stops.flexion.value = 130))),
    raisesNot: asRecorded(),
  },
  {
    code: 'pad_travel_clear',
    level: 'caution',
    at: ['#/setups/0'],
    raises: change((d) => (d.setups[0].axisCheck.padTravel = 'clear')),
    raisesNot: change((d) => (d.setups[0].axisCheck.padTravel = 'slight')),
  },
  {
    code: 'pad_travel_slight',
    level: 'note',
    at: ['#/setups/0'],
    raises: change((d) => (d.setups[0].axisCheck.padTravel = 'slight')),
    raisesNot: change((d) => (d.setups[0].axisCheck.padTravel = 'none')),
  },
  {
    code: 'zero_before_last_adjustment',
    level: 'caution',
    at: ['#/setups/1'],
    raises: change((d) => (d.setups[1].anatomicalZero.afterLastAdjustment = 'no')),
    raisesNot: {},
  },
  {
    code: 'thigh_strap_overtight',
    level: 'caution',
    at: ['#/setups/1'],
    raises: change((d) => (d.setups[1].stabilisation.thighStrap = 'overtight')),
    raisesNot: {},
  },
]

/** One extension of a recording, counted from 1, at a share of its torque. */
function weaken({ channels }: LooseDocument, repetition: number, share: number): void {
  const [torque, , velocity] = channels.map((channel: LooseDocument) => channel.values)
  let begun = 0
  velocity.forEach((now: number, i: number) => {
    if (now < 0 && !(velocity[i - 1] < 0)) begun++
    if (now < 0 && begun === repetition) torque[i] *= share
  })
}

function weigh(document: LooseDocument, left: number, right: number): void {
  document.setups[0].limbWeighing.torque.value = left
  document.setups[1].limbWeighing.torque.value = right
}
function lighterRight(document: LooseDocument): void {
  weigh(document, 11.5, 9.8)
}
function lighterLeft(document: LooseDocument): void {
  weigh(document, 9.8, 11.5)
}

/** What flags of a code point at, results by their test. */
function pointedAt(body: LooseDocument, code: string): string[] {
  const flags = body.flags.filter((flag: LooseDocument) => flag.code === code)
  const names: string[] = flags.map((flag: LooseDocument) => {
    const result = body.results.find((one: LooseDocument) => one.id === flag.resultId)
    if (result === undefined) return flag.pointer
    const velocity = result.velocity.value === 60 ? '' : ` ${result.velocity.value}`
    return `${result.side} ${result.movement}${velocity}`
  })
  return [...new Set(names)].sort()
}

async function visited(
  one: Case,
  options: VisitOptions,
  world: WorldOptions | undefined,
): Promise<[World, LooseDocument]> {
  const arranged = await worldIn(service, clinic, `RB-${++subjects}`, world)
  for (const [index, visit] of (one.history ?? []).entries()) await arranged.pushVisit(`2026-10-0${index + 1}`, visit)
  return [arranged, await arranged.pushVisit('2026-11-10', options)]
}

describe('a flag', () => {
  it.each(CASES)('$code ($level) at $at is raised where it belongs, with what it does', async (one) => {
    const [, body] = await visited(one, one.raises, one.world)
    expect(pointedAt(body, one.code)).toEqual([...one.at].sort())
    const flags = body.flags.filter((flag: LooseDocument) => flag.code === one.code)
    for (const flag of flags) {
      expect(flag).toMatchObject({ level: one.level, status: 'open', sessionId: body.session.id })
      expect(flag.message.length).toBeGreaterThan(10)
      expect(flag.effect).toMatch(one.level === 'hold' ? /kept out of trends/ : /./)
    }
    const held = body.results.filter((result: LooseDocument) => result.state === 'held')
    const names = held.map((r: LooseDocument) => `${r.side} ${r.movement}${r.velocity.value === 60 ? '' : ` ${r.velocity.value}`}`) // prettier-ignore
    const ofSession = one.at.some((at) => at.startsWith('#'))
    expect(names.sort()).toEqual(one.level !== 'hold' ? [] : ofSession ? BOTH : [...one.at].sort())
  })

  it.each(CASES)('$code ($level) at $at is not raised next to that', async (one) => {
    const [, body] = await visited(one, one.raisesNot, one.calm ?? one.world)
    expect(codesOf(body.flags)).not.toContain(one.code)
  })
})

describe('calibration_overdue', () => {
  let world: World
  beforeEach(async () => {
    world = await makeWorld(service)
    const check = {
      checkedAt: '2026-05-01T08:00:00+02:00',
      mass: { value: 20, unit: 'kg' },
      armLength: { value: 0.5, unit: 'm' },
      readTorque: { value: 98.4, unit: 'N.m' },
      nextDueOn: '2026-11-09',
    }
    const url = `/v1/dynamometers/${world.dynamometerId}/calibration-checks`
    expect((await world.owner.post(url, check)).status).toBe(201)
  })

  it('is raised on the day after the next check was due, by the check that was in force then', async () => {
    const { flags } = await world.pushVisit('2026-11-10')
    expect(flags).toMatchObject([{ code: 'calibration_overdue', level: 'caution', pointer: '#/dynamometer', evidence: { nextDueOn: '2026-11-09' } }]) // prettier-ignore
  })

  it('is not raised on the day it is due, nor of a visit before that check', async () => {
    expect((await world.pushVisit('2026-11-09')).flags).toEqual([])
    expect((await world.pushVisit('2026-04-30')).flags).toEqual([])
  })
})

describe('calibration_drift', () => {
  // 20 kg at 0.5 m is 98.0665 N.m by standard gravity; 100.0278 N.m is 2 % above it, 96.1052 N.m 2 % below.
  it.each([
    ['more than the clinic allows', 100.03, { value: 2, unit: '%' }, true],
    ['as much below', 96.1, { value: 0.02, unit: '1' }, true],
    ['what it allows', 100.02, { value: 2, unit: '%' }, false],
    ['a fifth, where the clinic named no limit', 118, undefined, false],
  ])('%s off at the last check before the test', async (_, readNm, largestDrift, isRaised) => {
    const world = await makeWorld(service)
    const check = {
      checkedAt: '2026-05-01T08:00:00+02:00',
      mass: { value: 20, unit: 'kg' },
      armLength: { value: 0.5, unit: 'm' },
      readTorque: { value: readNm, unit: 'N.m' },
      largestDrift,
    }
    const url = `/v1/dynamometers/${world.dynamometerId}/calibration-checks`
    const kept = await world.owner.post(url, check)
    expect(kept.status, kept.text).toBe(201)
    expect(kept.body.largestDrift).toEqual(largestDrift)
    const { flags } = await world.pushVisit('2026-11-10')
    const raised = { code: 'calibration_drift', level: 'caution', pointer: '#/dynamometer' }
    expect(flags).toMatchObject(isRaised ? [raised] : [])
    expect((await world.pushVisit('2026-04-30')).flags).toEqual([])
  })
})
