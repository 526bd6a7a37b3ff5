/**
 * Each code of the list of flags: a document that raises it, while the one it was made from does not. Dry runs, since they
 * answer what a push would. Hazards against a history, and what each flag points at: flags.db.test.ts.
 */
import { readFileSync } from 'node:fs'
import { beforeAll, describe, expect, it } from 'vitest'
import { FLAG_CODES } from '../../../src/domain/flag-lists.ts'
import { sampleMovement, type LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeAll(async () => {
  world = await makeWorld(service)
}, 60_000)

const ALL = FLAG_CODES.map(({ code }) => code)

type Edit = (document: LooseDocument) => unknown
const dryRun = (document: LooseDocument) =>
  world.machine.post('/v1/calculations/session-check', document, { key: null })
const quantity = (value: number, unit: string) => ({ value, unit })

const visit = (edit: Edit = () => undefined): LooseDocument => {
  const document = recorded(world.visit('2026-11-10'))
  edit(document)
  return document
}

const channel = (document: LooseDocument, name: string, set = 0): number[] =>
  document.sets[set].recording.channels.find((one: LooseDocument) => one.name === name).values as number[]

/** The first set with a column of times, 200 Hz, of which some may be moved. */
const timed =
  (move: (timeS: number[]) => void): Edit =>
  (document) => {
    const { recording } = document.sets[0]
    delete recording.sampleRate
    const timeS = channel(document, 'torque').map((_, i) => i / 200)
    move(timeS)
    recording.channels.unshift({ name: 'time', unit: 's', values: timeS })
  }
const first =
  (edit: (set: LooseDocument) => void): Edit =>
  (document) =>
    edit(document.sets[0])
const inRecording = (edit: (recording: LooseDocument) => void): Edit => first((set) => edit(set.recording))
const each =
  (name: string, change: (value: number, i: number) => number): Edit =>
  (document) => {
    const values = channel(document, name)
    values.forEach((value, i) => (values[i] = change(value, i)))
  }
const isometric = (edit: (torque: number[], angle: number[]) => void): Edit =>
  first((set) => {
    set.contractionScheme = 'single_direction'
    set.directions = [{ movement: 'extension', contractionMode: 'isometric', velocity: quantity(0, 'deg/s') }]
    delete set.intendedRepetitions
    const torque: number[] = []
    for (let i = 0; i < 1_600; i++) torque.push(i < 400 || i > 1_200 ? 0 : Math.min(150, (i - 400) * 2))
    const angle = torque.map(() => 60)
    edit(torque, angle)
    const [torques, angles] = set.recording.channels
    set.recording.channels = [
      { ...torques, values: torque },
      { ...angles, values: angle },
    ]
  })
/** Samples of one stroke of the velocity's sign, counted from 1. */
function strokes(document: LooseDocument, sign: 1 | -1, which: number, visit: (sample: number) => void): void {
  let begun = 0
  const velocity = channel(document, 'velocity')
  velocity.forEach((now, i) => {
    if (Math.sign(now) === sign && Math.sign(velocity[i - 1] ?? 0) !== sign) begun++
    if (Math.sign(now) === sign && begun === which) visit(i)
  })
}

/** Eight seconds at 10 deg/s, there and back: someone moves the limb to where the test begins. */
const there = Array.from({ length: 800 }, (_, i) => 95 - i * 0.05)
const SLOW = {
  angle: [...there, ...there.toReversed()],
  velocity: [...there.map(() => -10), ...there.map(() => 10)],
  torque: [...there, ...there].map((_, i) => (i % 3) * 0.1),
}

const slowly = (): LooseDocument => sampleMovement({ velocityDegS: 60, sampleRateHz: 50 })

/** What raises each; of a setup or a repetition as well. */
const RAISES: Readonly<Record<string, Edit>> = {
  impossible_value: (d) => (d.sets[0].reported = { torqueState: 'gravity_corrected', deviceFilter: 'none', deviceWindowing: 'none', values: [{ movement: 'extension', measure: 'peakTorque', statistic: 'best', quantity: quantity(1_400, 'N.m') }] }, delete d.sets[0].recording), // prettier-ignore
  pain_limited: (d) => (d.screening.pain.during.value = 6),
  too_few_samples: inRecording(({ channels }) =>
    channels.forEach((one: LooseDocument) => (one.values = one.values.slice(0, 8))),
  ),
  too_many_samples_missing: timed((t) => t.forEach((_, i) => (t[i] = i / 200 + (i > 1_000 ? 30 : 0)))),
  sign_convention_doubtful: inRecording((recording) => (recording.torquePositive = 'flexion')),
  possible_angle_in_radians: each('angle', (value) => (value * Math.PI) / 180),
  torque_saturated: each('torque', (value) => Math.max(-60, Math.min(value, 90))),
  torque_unsigned: (d) => (each('torque', Math.abs)(d), (d.sets[0].recording.torquePositive = 'unsigned')),
  velocity_contradicts_angle: each('velocity', (value) => -value),
  samples_missing: timed((t) => t.forEach((_, i) => (t[i] = i / 200 + (i > 1_000 ? 0.1 : 0)))),
  uneven_time_resampled: timed((t) => t.forEach((_, i) => (t[i] = i / 200 + (i % 2) * 0.001))),
  filtered_by_device: inRecording((recording) => (recording.deviceFilter = 'applied')),
  device_filter_unknown: inRecording((recording) => (recording.deviceFilter = 'unknown')),
  cutoff_too_near_nyquist: first((set) => {
    set.recording.sampleRate = quantity(50, 'Hz')
    const samples = slowly()
    set.recording.channels = [['torque', 'N.m', samples.torqueNm], ['angle', 'deg', samples.angleDeg]].map(([name, unit, values]) => ({ name, unit, values })) // prettier-ignore
    set.directions.forEach((direction: LooseDocument) => (direction.velocity = quantity(300, 'deg/s')))
  }),
  device_windowing_unknown: inRecording((recording) => (recording.deviceWindowing = 'unknown')),
  gravity_corrected_by_device: inRecording((recording) => (recording.torqueState = 'gravity_corrected')),
  no_repetition_found: (d) => (each('angle', () => 95)(d), each('velocity', () => 0)(d)),
  no_counted_repetition: first((set) => (set.repetitionNotes = [1, 2, 3, 4, 5].map((repetition) => ({ repetition, count: 'no', reason: 'other' })))), // prettier-ignore
  // A note beyond the last repetition found is refused; where none was found, there is nothing to hold it against.
  repetition_note_unmatched: (d) => {
    each('angle', () => 95)(d)
    each('velocity', () => 0)(d)
    d.sets[0].repetitionNotes = [{ repetition: 2, count: 'no', reason: 'other' }]
  },
  contraction_mode_differs: (d) => strokes(d, -1, 2, (i) => (channel(d, 'torque')[i]! *= channel(d, 'angle')[i]! > 25 ? -1 : 1)), // prettier-ignore
  peak_torque_near_edge: (d) => strokes(d, -1, 2, (i) => (channel(d, 'torque')[i] = (95 - channel(d, 'angle')[i]!) * 1.5)), // prettier-ignore
  positioning_movements: inRecording(({ channels }) => channels.forEach(({ name, values }: { name: string; values: number[] }) => values.unshift(...SLOW[name as keyof typeof SLOW]))), // prettier-ignore
  axis_checked_before_last_adjustment: (d) => (d.setups[0].axisCheck.afterLastAdjustment = 'no'),
  weighed_before_last_adjustment: (d) => (d.setups[0].limbWeighing.afterLastAdjustment = 'no'),
  axis_check_time_unknown: (d) => (d.setups[0].axisCheck.afterLastAdjustment = 'unknown'),
  zero_time_unknown: (d) => (d.setups[0].anatomicalZero.afterLastAdjustment = 'unknown'),
  weighing_time_unknown: (d) => (d.setups[0].limbWeighing.afterLastAdjustment = 'unknown'),
  weighed_near_level: (d) => (d.setups[0].limbWeighing.limbAngleBelowHorizontal.value = 5),
}

/** What only the core alone can be given: a document with it is refused, at the place. */
const REFUSED: Readonly<Record<string, Edit>> = {
  time_not_finite: timed((t) => (t[10] = null as unknown as number)),
  time_not_monotonic: timed((t) => (t[10] = 0)),
  duplicate_time_stamps: timed((t) => (t[10] = t[9]!)),
  sample_rate_out_of_range: timed((t) => t.forEach((_, i) => (t[i] = i / 20))),
  values_missing: (d) => (channel(d, 'angle')[700] = null as unknown as number),
  no_torque_values: inRecording(({ channels }) => channels[0].values.fill(null)),
  no_angle_values: inRecording(({ channels }) => channels[1].values.fill(null)),
  movement_pair_differs: inRecording((recording) => (recording.anglePositive = 'abduction')),
  unsigned_torque_has_no_direction: (d) => {
    isometric(() => undefined)(d)
    d.sets[0].contractionScheme = 'reciprocal'
    d.sets[0].directions.push({ movement: 'flexion', contractionMode: 'isometric', velocity: quantity(0, 'deg/s') })
    d.sets[0].recording.torquePositive = 'unsigned'
  },
}

/** What stands on a repetition and not on the work list. */
const ON_REPETITIONS: Readonly<Record<string, Edit>> = {
  velocity_overshoot: (d) => {
    // The limb is caught late: a fifth faster than set at the beginning of each stroke.
    const [angle, velocity] = [channel(d, 'angle'), channel(d, 'velocity')]
    velocity.forEach((now, i) => (velocity[i] = now < 0 && angle[i]! > 80 && angle[i]! < 90 ? now * 1.15 : now))
  },
  limb_moved: isometric((_torque, angle) => angle.forEach((value, i) => (angle[i] = value - Math.min(20, Math.max(0, (i - 600) / 20))))), // prettier-ignore
  onset_not_found: isometric((torque) => torque.forEach((_, i) => (torque[i] = 150))),
}

const codesOf = (body: LooseDocument): string[] => [...new Set<string>((body.flags ?? []).map(({ code }: { code: string }) => code))] // prettier-ignore

const EDITS = Object.entries(RAISES).map(([code, edit]) => [code, edit] as const)

describe('each flag', () => {
  it('is raised by none of what is in order', async () => {
    const { status, body } = await dryRun(visit())
    expect([status, codesOf(body)]).toEqual([200, []])
    const repetitions = await pushed(() => undefined)
    expect(repetitions.flatMap(({ flags }) => flags)).toEqual([])
  })

  it.each(EDITS)('%s is raised by a document with the fault', async (code, edit) => {
    const answer = await dryRun(visit(edit))
    expect(answer.status, answer.text.slice(0, 500)).toBe(200)
    expect(codesOf(answer.body)).toContain(code)
  })

  it.each(Object.entries(ON_REPETITIONS))('%s stands on the repetition', async (code, edit) => {
    expect((await pushed(edit)).flatMap(({ flags }) => flags)).toContain(code)
  })

  it.each(Object.entries(REFUSED))('%s: no document can hold it, the one that would is refused', async (_, edit) => {
    const answer = await dryRun(visit(edit))
    expect(answer.status).toBe(400)
    expect(answer.body.errors[0].pointer).toMatch(/^#\/sets\/0\/recording\//)
  })

  it('of the list has its case, here or beside a history', () => {
    const others = readFileSync(new URL('flags.db.test.ts', import.meta.url), 'utf8')
    const here = [RAISES, ON_REPETITIONS, REFUSED].flatMap((cases) => Object.keys(cases))
    const beside = [...others.matchAll(/code: '(\w+)'|'(calibration_overdue|calibration_drift)'/g)].map(([, code, word]) => code ?? word ?? '') // prettier-ignore
    expect(here.filter((code) => !(ALL as readonly string[]).includes(code))).toEqual([])
    expect(ALL.filter((code) => ![...here, ...beside].includes(code))).toEqual([])
  })
})

/** Repetitions of a visit with this recording, followed back from its results. */
async function pushed(edit: Edit): Promise<{ flags: string[] }[]> {
  const { body } = await world.push(visit(edit))
  const found: { flags: string[] }[] = []
  for (const { id } of body.results)
    found.push(...(await world.clinician.get(`/v1/results/${id}`)).body.repetitions.list)
  return found
}
