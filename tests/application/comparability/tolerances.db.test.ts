/**
 * Each tolerance of the table of rules with real visits: inside it, exactly on it, and beyond it. Where a study stands behind a
 * row it is named there; the limits themselves are proposals of this project, since no study publishes one.
 */
import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { axisCheckAt, dynamometerWithSettings, makeWorld, recorded, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
/** Everything known, recordings and all: what a second visit like it is comparable with. */
let first: LooseDocument

const C = 'comparable'
const W = 'comparable_with_caution'
const A = 'not_assessable'
const N = 'not_comparable'

type Edit = (document: LooseDocument) => unknown
/** What differs, the verdict, and the measure it is asked for: peak torque unless said. */
type Step = readonly [differs: string, verdict: string, edit: Edit, measure?: string]

const setups = (edit: Edit): Edit => (d) => d.setups.forEach(edit) // prettier-ignore
const sets = (edit: Edit): Edit => (d) => d.sets.forEach(edit) // prettier-ignore
const recordings = (edit: Edit): Edit => sets((set) => edit(set.recording))
const arm = (mm: number): Edit => setups((s) => (s.attachment.leverArmLength = { value: mm, unit: 'mm' }))
const dial = (key: string, deg: number): Edit => setups((s) => (s.settings[key] = { value: deg, unit: 'deg' }))
const stop = (movement: string, deg: number): Edit => setups((s) => (s.stops[movement].value = deg))
const axis = (forwardMm: number, upMm: number): Edit => setups((s) => (s.axisCheck = axisCheckAt(forwardMm, upMm, 'none'))) // prettier-ignore
const zero = (deg: number): Edit => setups((s) => (s.anatomicalZero.reading.value = deg))
const straps = (part: string, word: string): Edit => setups((s) => (s.stabilisation[part] = word))
const condition = (name: string, word: unknown): Edit => (d) => (d.conditions[name] = word) // prettier-ignore
const velocity = (value: number, unit: string): Edit => sets((s) => s.directions.forEach((x: LooseDocument) => (x.velocity = { value, unit }))) // prettier-ignore
const mass = (kg: number): Edit => (d) => (d.bodyMass.value = kg) // prettier-ignore
const pain = (score: number): Edit => (d) => (d.screening.pain.during.value = score) // prettier-ignore
const started = (clock: string): Edit => (d) => (d.startedAt = d.startedAt.replace('T09:05', `T${clock}`)) // prettier-ignore
const rest = (seconds: number): Edit => sets((s) => (s.restBefore.value = seconds))
const onMachine = (family: string): Edit => async (d) => {
  const body = withHip({ ...dynamometerWithSettings(`of family ${family}`), deviceFamily: family })
  const made = await world.owner.post('/v1/dynamometers', body)
  expect(made.status, made.text).toBe(201)
  d.dynamometer = { id: made.body.id, descriptionVersion: 1 }
} // prettier-ignore

const ANGLE = 'angleOfPeakTorque'
const WORK = 'totalWork'

const TABLE: readonly (readonly [factor: string, source: string, steps: readonly Step[]])[] = [
  ['trunk_straps', 'Magnusson 1993 JAT 28:221-4', [
    ['the same', C, straps('trunkStraps', 'both')],
    ['one strap', N, straps('trunkStraps', 'one')],
    ['none', N, straps('trunkStraps', 'none')],
    ['not recorded', A, straps('trunkStraps', 'not_recorded')],
  ]],
  ['hands', 'Magnusson 1993 JAT 28:221-4', [
    ['arms crossed', N, straps('hands', 'crossed_on_chest')],
    ['not recorded', A, straps('hands', 'not_recorded')],
  ]],
  ['thigh_strap', 'Otten 2013 Sports Health 5:137-42', [
    ['another tension', W, straps('thighStrap', 'light')],
    ['none', N, straps('thighStrap', 'none')],
  ]],
  ['lever_arm_length', 'Otten 2013 Sports Health 5:137-42', [
    ['10 mm more', C, arm(310)],
    ['10 mm less', C, arm(290)],
    ['10.1 mm more', W, arm(310.1)],
    ['20 mm more', W, arm(320)],
    ['20.1 mm more', N, arm(320.1)],
    ['20.1 mm less', N, arm(279.9)],
  ]],
  ['attachment', 'Otten 2013 Sports Health 5:137-42', [['a pad nearer the hip', N, setups((s) => (s.attachment.key = 'thigh-pad'))]]],
  ['backrest_angle', 'Sports Med Open 2021 7: s40798-021-00330-w', [
    ['5 deg', C, dial('backrestAngle', 90)],
    ['6 deg', W, dial('backrestAngle', 91)],
    ['15 deg', W, dial('backrestAngle', 100)],
    ['16 deg', N, dial('backrestAngle', 101)],
  ]],
  ['hip_angle', 'Sports Med Open 2021 7: s40798-021-00330-w', [
    ['5 deg', C, dial('hipAngle', 85)],
    ['5.1 deg', W, dial('hipAngle', 84.9)],
    ['15 deg', W, dial('hipAngle', 75)],
    ['15.1 deg', N, dial('hipAngle', 74.9)],
  ]],
  ['body_position', 'PMC6101381', [['lying down', N, setups((s) => (s.bodyPosition = 'supine'))]]],
  ['axis_offset', 'the geometry of the linkage', [
    ['10 mm', C, axis(10, 0)],
    ['10.1 mm', W, axis(10.1, 0)],
    ['21 mm, for torque', W, axis(0, -21)],
    ['10 mm, for an angle', C, axis(0, -10), ANGLE],
    ['10.1 mm, for an angle', W, axis(0, 10.1), ANGLE],
    ['20 mm, for an angle', W, axis(20, 0), ANGLE],
    ['20.1 mm, for an angle', N, axis(20.1, 0), ANGLE],
    ['20 mm forward and 20 down, where the pad ends as it began', N, axis(20, -20), ANGLE],
  ]],
  ['gravity_correction', 'Winter, Wells & Orr 1981 Eur J Appl Physiol 46:397-408', [
    ['taken out by the machine', C, recordings((r) => (r.torqueState = 'gravity_corrected'))],
    ['left in', N, setups((s) => (s.limbWeighing = { method: 'not_performed', reason: 'time' }))],
    ['not known', A, recordings((r) => (r.torqueState = 'unknown'))],
  ]],
  ['velocity', 'Rosene 2001 J Athl Train 36:378-83', [
    ['the same in rounded rad/s', C, velocity(1.047, 'rad/s')],
    ['1 deg/s more', N, velocity(61, 'deg/s')],
  ]],
  ['range_of_motion', 'common practice', [
    ['an end 5 deg on', C, stop('flexion', 100)],
    ['an end 6 deg on', W, stop('flexion', 101)],
    ['a start 5 deg on', C, stop('extension', 0)],
    ['a start 6 deg on', W, stop('extension', -1)],
    ['11 deg, for torque', W, stop('flexion', 106)],
    ['10 deg, for work', W, stop('flexion', 105), WORK],
    ['10.1 deg, for work', N, stop('flexion', 105.1), WORK],
  ]],
  ['device_filter', 'Murray 1986 Med Sci Sports Exerc 18:603-11', [["the machine's filter", W, recordings((r) => (r.deviceFilter = 'applied'))]]],
  ['device_windowing', 'Findley 2006 JSSM 5:400-6', [["the machine's window", W, recordings((r) => (r.deviceWindowing = 'applied'))]]],
  ['dynamometer', 'common practice', [
    ['another of the same family', W, onMachine('window-side')],
    ['one of another family', N, onMachine('door-side')],
  ]],
  ['verbal_encouragement', 'Rendos 2019 JSCR 33:708-16', [['another script', W, condition('verbalEncouragement', 'script_b')]]],
  ['visual_feedback', 'Kim & Kramer 1997 JOSPT 26:318', [['a curve on the screen', W, condition('visualFeedback', 'torque_curve')]]],
  ['warm_up', 'common practice', [['another one', C, condition('warmUp', { activity: 'rowing' })]]],
  ['limb_order', 'BMJ Open Sport Exerc Med consensus, table 3', [['reversed', C, condition('limbOrder', 'involved_first')]]],
  ['rest_before', 'PMC5764011', [
    ['60 s', C, rest(60)],
    ['59 s', W, rest(59)],
  ]],
  ['intended_repetitions', 'order statistics', [
    ['six for five, best torque', W, sets((s) => (s.intendedRepetitions = 6))],
    ['six for five, total work', N, sets((s) => (s.intendedRepetitions = 6)), WORK],
  ]],
  ['anatomical_zero', 'common practice', [
    ['3 deg', C, zero(3)],
    ['3.1 deg', W, zero(3.1)],
    ['6 deg, for torque', W, zero(-6)],
    ['5 deg, for an angle', W, zero(-5), ANGLE],
    ['5.1 deg, for an angle', N, zero(5.1), ANGLE],
  ]],
  ['body_mass', 'common practice', [
    // 5 % of the larger of the two: 72 kg x 0.95 = 68.4 kg
    ['5 %, per body mass', C, mass(72), 'peakTorquePerBodyMass'],
    ['5.2 %, per body mass', W, mass(72.15), 'peakTorquePerBodyMass'],
    ['5.2 % less, per body mass', W, mass(64.84), 'peakTorquePerBodyMass'],
    ['20 %, in N.m', C, mass(55)],
  ]],
  ['operator', 'common practice', [['another one', C, (d) => (d.operator.identifier.value = 'assistant')]]],
  ['analgesics', 'common practice', [['taken', C, (d) => (d.screening.answers.at(-1).answer = 'yes')]]],
  ['familiarisation', 'McCleary & Andersen 1992 JAT 27:362-5', [
    ['on the same day', C, condition('familiarisation', 'same_session')],
    ['none: a first-ever test', W, condition('familiarisation', 'none')],
  ]],
  ['start_time_of_day', 'from memory', [
    ['3 h later', C, started('12:05')],
    ['3 h and a minute later', C, started('12:06')],
  ]],
  ['pain_during', 'BMJ Open Sport Exerc Med consensus, table 3', [
    ['3 of 10', C, pain(3)],
    ['3.1 of 10', N, pain(3.1)],
  ]],
] // prettier-ignore

const EFFECTS: Readonly<Record<string, string>> = { [W]: 'caution', [A]: 'not_assessable', [N]: 'not_comparable' }
/** Told in words and of no consequence: beyond these there is a note. */
const NOTES: readonly string[] = ['warm_up another one', 'limb_order reversed', 'operator another one', 'analgesics taken', 'familiarisation on the same day', 'start_time_of_day 3 h and a minute later'] // prettier-ignore

function withHip(body: LooseDocument): LooseDocument {
  body.settings.push({ key: 'hipAngle', label: 'Hip', factor: 'hip_angle', kind: 'quantity', unit: 'deg', range: { low: 60, high: 120 }, mirror: 'same', tolerance: { value: 5, unit: 'deg' } }) // prettier-ignore
  return body
}

let visits = 0
/** The right knee's extension of another visit, which differs so. */
async function visit(edit: Edit = () => undefined): Promise<LooseDocument> {
  const day = new Date(Date.UTC(2026, 3, ++visits)).toISOString().slice(0, 10)
  const document = recorded(world.visit(day), visits * 10)
  dial('hipAngle', 90)(document)
  await edit(document)
  const { body } = await world.push(document)
  return body.results.find((r: LooseDocument) => r.side === 'right' && r.movement === 'extension')
}

async function judged(other: LooseDocument, measure = 'peakTorque') {
  const { body, status, text } = await world.clinician.get(`/v1/comparability?a=${first.id}&b=${other.id}`)
  expect(status, text).toBe(200)
  const found = body.measures.find((one: LooseDocument) => one.measure === measure)
  expect(found, `no verdict on ${measure}`).toBeDefined()
  return found as { verdict: string; reasons: LooseDocument[] }
}

beforeAll(async () => {
  world = await makeWorld(service, { dynamometer: withHip })
  first = await visit()
}, 60_000)

describe('two visits of one limb', () => {
  it('in the same position are comparable, and there is nothing to say about it', async () => {
    const twin = await visit()
    for (const measure of ['peakTorque', ANGLE, WORK, 'peakTorquePerBodyMass'])
      expect(await judged(twin, measure)).toEqual({ measure, verdict: C, reasons: [] })
  })

  const rows = TABLE.flatMap(([factor, source, steps]) =>
    steps.map(([differs, verdict, edit, measure]) => ({ factor, source, differs, verdict, edit, measure })),
  )
  it.each(rows)('$factor, $differs: $verdict', async ({ factor, source, differs, verdict, edit, measure }) => {
    const { reasons, ...found } = await judged(await visit(edit), measure)
    expect(found.verdict, JSON.stringify(reasons)).toBe(verdict)
    const told = reasons.filter((reason) => reason.factor === factor)
    const effect = NOTES.includes(`${factor} ${differs}`) ? 'note' : EFFECTS[verdict]
    expect(told.map((reason) => reason.effect)).toEqual(effect === undefined ? [] : [effect])
    for (const reason of told) expect(reason.source).toContain(source)
  })

  it('of other repetitions do not compare in fatigue either', async () => {
    const fatigue = { movement: 'extension', measure: 'fatigueIndexEdges', statistic: 'total', quantity: { value: 34.2, unit: '%' } } // prettier-ignore
    const [five, thirty] = await Promise.all(
      [5, 30].map(async (repetitions) => {
        const change: Edit = (document) => {
          dial('hipAngle', 90)(document)
          sets((set) => { set.intendedRepetitions = repetitions; set.reported.values.push(fatigue) })(document) // prettier-ignore
        }
        const { results } = await world.pushVisit(`2026-09-${String(repetitions).padStart(2, '0')}`, { change })
        return results.find((r: LooseDocument) => r.side === 'right' && r.movement === 'extension').id as string
      }),
    )
    const { body } = await world.clinician.get(`/v1/comparability?a=${five}&b=${thirty}`)
    const verdicts = Object.fromEntries(body.measures.map((one: LooseDocument) => [one.measure, one.verdict]))
    expect(verdicts).toMatchObject({ peakTorque: W, fatigueIndexEdges: N })
  })
})
