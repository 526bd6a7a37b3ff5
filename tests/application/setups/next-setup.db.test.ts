import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { calibrationBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { axisCheckAt, dynamometerWithSettings, makeWorld, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
})

const url = (of: World, side: string, on = '2026-10-01', dynamometerId = of.dynamometerId) =>
  `/v1/subjects/${of.subjectId}/next-setup?joint=knee&side=${side}&dynamometerId=${dynamometerId}&on=${on}`

async function next(side = 'right', on?: string, dynamometerId?: string): Promise<LooseDocument> {
  const answer = await world.clinician.get(url(world, side, on, dynamometerId))
  expect(answer.status, answer.text).toBe(200)
  return answer.body
}

const pin = (session: LooseDocument, setup: string) =>
  world.clinician.post(`/v1/subjects/${world.subjectId}/reference-setups`, { session: { id: session.session.id }, setup, reason: 'Start of the rehabilitation' }) // prettier-ignore

const dialOf = (body: LooseDocument, key: string): LooseDocument =>
  [...body.chairAndMachine, ...body.partsToFetch, ...body.fittingTheSubject].find((one: LooseDocument) => one.key === key) // prettier-ignore
const codes = (body: LooseDocument): string[] => body.warnings.map((warning: LooseDocument) => warning.code)

describe('the next setup', () => {
  it('comes in the order of the work', async () => {
    await pin(await world.pushVisit('2026-09-02'), 'right-knee')
    expect(Object.keys(await next())).toEqual([
      'identityCheck',
      'precautionsAndLimits',
      'mechanicalStops',
      'partsToFetch',
      'chairAndMachine',
      'fittingTheSubject',
      'measureAgain',
      'changedSinceReference',
      'plannedTest',
      'warnings',
      'notes',
    ])
  })

  it('fits the subject in the order of the trade: seat depth, axis, pad, lever arm, hands', async () => {
    await pin(await world.pushVisit('2026-09-02'), 'right-knee')
    const { fittingTheSubject } = await next()
    expect(fittingTheSubject.map((one: LooseDocument) => one.key)).toEqual([
      'seatDepthCheck',
      'axisLandmark',
      'padLandmark',
      'padMountedOn',
      'leverArmLength',
      'hands',
    ])
    // What was found then is no start value: the rule is told, and the gap is looked at again
    expect(fittingTheSubject[0]).toMatchObject({ value: 'About two fingers, up to 100 deg of flexion', origin: 'rule_of_thumb' }) // prettier-ignore
  })

  it('starts from the reference, not from the last visit, and says what that one did otherwise and why', async () => {
    await pin(await world.pushVisit('2026-08-02'), 'right-knee')
    await world.pushVisit('2026-09-02', {
      change: (document) => {
        const setup = document.setups[1]
        setup.planned = { settings: { seatDepth: { value: 42, unit: 'cm' } } }
        setup.settings.seatDepth = { value: 43, unit: 'cm' }
        setup.deviations = [{ of: 'settings/seatDepth', reason: 'axis_alignment' }]
      },
    })
    const body = await next()
    expect(dialOf(body, 'seatDepth')).toEqual({ key: 'seatDepth', label: 'Depth of the seat', value: { value: 42, unit: 'cm' }, origin: 'reference', tolerance: { value: 1, unit: 'cm' } }) // prettier-ignore
    expect(body.changedSinceReference).toEqual([
      { what: 'settings/seatDepth', reference: '42 cm', lastSession: '43 cm', reason: 'axis_alignment' },
    ])
    expect(codes(body)).toEqual([])
  })

  it('takes the last visit where nothing is pinned', async () => {
    await world.pushVisit('2026-09-02')
    const body = await next()
    expect(dialOf(body, 'seatDepth').origin).toBe('last_session')
    expect(dialOf(body, 'leverArmLength')).toMatchObject({ value: { value: 0.3, unit: 'm' }, origin: 'last_session' })
    expect(body.mechanicalStops).toEqual([
      { movement: 'extension', value: { value: 5, unit: 'deg' }, origin: 'last_session', limitedBy: null },
      { movement: 'flexion', value: { value: 95, unit: 'deg' }, origin: 'last_session', limitedBy: null },
    ])
    expect(codes(body)).toEqual(['no_reference'])
  })

  it('mirrors the other limb where that is all there is, as the description says of each dial', async () => {
    await pin(await world.pushVisit('2026-09-02', { sides: ['left'] }), 'left-knee')
    const body = await next()
    expect(dialOf(body, 'floorRail')).toMatchObject({ value: { scale: 'rail-right', mark: '2' }, origin: 'mirrored_reference' }) // prettier-ignore
    expect(dialOf(body, 'thighStrap')).toMatchObject({ value: 'firm', origin: 'mirrored_reference' })
    expect(codes(body)).toEqual(['no_reference', 'mirrored'])
    expect(dialOf(body, 'wedge')).toMatchObject({ value: 'none', origin: 'mirrored_reference' })
    expect(dialOf(body, 'footRestFolded')).toMatchObject({ value: true, origin: 'mirrored_reference' })
    // Nobody tested this limb: there is nothing to repeat
    expect(body.plannedTest).toMatchObject({ origin: 'none', sets: [] })
  })

  it('negates what the description negates, and leaves open what has a value of its own on each side', async () => {
    world = await makeWorld(service, {
      dynamometer: (body) => {
        const dial = { label: 'A dial', kind: 'quantity', unit: 'deg', range: { low: -45, high: 45 }, step: 5 }
        body.settings.push({ ...dial, key: 'turn', mirror: 'negated' }, { ...dial, key: 'column', mirror: 'own_value' })
      },
    })
    const change = (document: LooseDocument) =>
      Object.assign(document.setups[0].settings, {
        turn: { value: 15, unit: 'deg' },
        column: { value: 20, unit: 'deg' },
      })
    await pin(await world.pushVisit('2026-09-02', { sides: ['left'], change }), 'left-knee')
    const body = await next()
    expect(dialOf(body, 'turn')).toMatchObject({ value: { value: -15, unit: 'deg' }, origin: 'mirrored_reference' })
    expect(dialOf(body, 'column')).toMatchObject({ value: null, origin: 'unknown' })
    expect(codes(body)).toContain('start_value_unknown')
  })

  it('never carries over or mirrors zero, limb weight, axis check or pain', async () => {
    await pin(await world.pushVisit('2026-09-02'), 'right-knee')
    for (const side of ['right', 'left']) {
      const body = await next(side)
      expect(body.measureAgain.map((one: LooseDocument) => [one.what, one.carriedOver])).toEqual(
        ['anatomical_zero', 'limb_weight', 'axis_check', 'pain', 'effusion'].map((what) => [what, 'never']),
      )
      // The values read then (torque 10.6 N.m at 35 deg) are nowhere in it
      expect(JSON.stringify(body)).not.toMatch(/10\.6|"value":35\b/)
    }
  })

  it('repeats the sets of the last visit of that limb', async () => {
    await world.pushVisit('2026-09-02', { velocitiesDegS: [60, 180] })
    const { plannedTest } = await next()
    expect(plannedTest.origin).toBe('last_session')
    expect(plannedTest.sets.map((set: LooseDocument) => set.directions[0].velocity.value)).toEqual([60, 180])
    expect(plannedTest.sets[0]).toMatchObject({ contractionScheme: 'reciprocal', intendedRepetitions: 5, restBefore: { value: 120, unit: 's' }, beyond: [] }) // prettier-ignore
  })

  it('uses start values of the description for a first test', async () => {
    const described = dynamometerWithSettings('second lab') as LooseDocument
    described.settings[0].startValue = { value: 85, unit: 'deg' }
    described.settings[2].startMark = '3'
    const { body } = await world.owner.post('/v1/dynamometers', described)
    const found = await next('left', undefined, body.id as string)
    expect(dialOf(found, 'backrestAngle')).toMatchObject({ value: { value: 85, unit: 'deg' }, origin: 'description_default' }) // prettier-ignore
    expect(dialOf(found, 'floorRail')).toMatchObject({ value: { scale: 'rail-left', mark: '3' }, origin: 'description_default' }) // prettier-ignore
    expect(dialOf(found, 'seatDepth')).toMatchObject({ value: null, origin: 'unknown' })
  })
})

describe('the next setup warns', () => {
  it('of another machine, whose dials do not carry over', async () => {
    await world.pushVisit('2026-09-02')
    const { body } = await world.owner.post('/v1/dynamometers', dynamometerWithSettings('second lab'))
    const found = await next('right', undefined, body.id as string)
    expect(codes(found)).toEqual(['no_reference', 'other_dynamometer', 'start_value_unknown', 'calibration_unknown'])
    expect(dialOf(found, 'seatDepth')).toMatchObject({ value: null, origin: 'unknown' })
  })

  it('of a description that changed, and of values that it no longer has', async () => {
    await pin(await world.pushVisit('2026-09-02'), 'right-knee')
    const described = dynamometerWithSettings(`lab of ${world.number}`) as LooseDocument
    described.settings[1].range.high = 41
    const edited = await world.owner.put(`/v1/dynamometers/${world.dynamometerId}`, described, '"1"')
    expect(edited.status, edited.text).toBe(200)
    const found = await next()
    expect(codes(found)).toEqual(['description_changed', 'not_in_description'])
    expect(found.changedSinceReference).toContainEqual({ what: 'description', reference: 'version 1', lastSession: 'version 2', reason: null }) // prettier-ignore
  })

  it('of a check that was off by more than the clinic allows', async () => {
    await pin(await world.pushVisit('2026-01-02'), 'right-knee')
    const check = {
      ...calibrationBody(),
      readTorque: { value: 118, unit: 'N.m' },
      largestDrift: { value: 2, unit: '%' },
    }
    const url = `/v1/dynamometers/${world.dynamometerId}/calibration-checks`
    expect((await world.owner.post(url, check)).status).toBe(201)
    expect(codes(await next('right', '2026-11-03'))).toContain('calibration_drift')
  })

  it('of old values, of a check that is due, and of axes that were not checked or did not agree', async () => {
    await pin(await world.pushVisit('2026-01-02'), 'right-knee')
    expect(codes(await next('right', '2026-07-03'))).toEqual([])
    expect(codes(await next('right', '2026-07-04'))).toEqual(['old'])
    expect(codes(await next('right', '2027-02-03'))).toEqual(['old', 'calibration_overdue'])
    const axis = async (check: object) => {
      const session = await world.pushVisit('2026-09-02', { change: (d) => void (d.setups[1].axisCheck = { landmark: 'lateral_femoral_condyle', ...check }) }) // prettier-ignore
      await pin(session, 'right-knee')
      return codes(await next())
    }
    expect(await axis({ status: 'not_performed', reason: 'time' })).toEqual(['axis_not_checked'])
    expect(await axis({ status: 'performed', padTravel: 'clear' })).toEqual(['axis_not_agreeing'])
    expect(await axis({ status: 'performed', padTravel: 'slight' })).toEqual([])
  })

  it('of values mirrored from the other limb as of those of the limb itself', async () => {
    const axisCheck = { landmark: 'lateral_joint_line', status: 'performed', padTravel: 'clear' }
    const left = { sides: ['left'], change: (d: LooseDocument) => void (d.setups[0].axisCheck = axisCheck) } as const
    await pin(await world.pushVisit('2026-01-02', left), 'left-knee')
    const found = await next('right', '2026-07-04')
    expect(codes(found)).toEqual(['no_reference', 'mirrored', 'old', 'axis_not_agreeing'])
    expect(dialOf(found, 'axisLandmark')).toMatchObject({ value: 'Lateral joint line of the knee', origin: 'mirrored_reference' }) // prettier-ignore
    const described = dynamometerWithSettings(`lab of ${world.number}`)
    await world.owner.put(`/v1/dynamometers/${world.dynamometerId}`, { ...described, name: 'Moved' }, '"1"')
    expect(codes(await next('right', '2026-03-04'))).toEqual(['no_reference', 'mirrored', 'description_changed', 'axis_not_agreeing']) // prettier-ignore
  })

  it('of an axis check that something was moved after, and of an offset that only the pad positions show', async () => {
    const after = async (change: (check: LooseDocument) => void) => {
      await pin(await world.pushVisit('2026-09-02', { change: (d) => change(d.setups[1].axisCheck) }), 'right-knee')
      return codes(await next())
    }
    expect(await after((check) => (check.afterLastAdjustment = 'no'))).toEqual(['axis_not_checked'])
    expect(await after((check) => Object.assign(check, axisCheckAt(25, 0, 'none')))).toEqual(['axis_not_agreeing'])
    expect(await after((check) => Object.assign(check, axisCheckAt(2, 0, 'none')))).toEqual([])
  })

  it('of a newer test on another machine, although this one has a reference', async () => {
    await pin(await world.pushVisit('2026-08-02'), 'right-knee')
    const { body } = await world.owner.post('/v1/dynamometers', dynamometerWithSettings('second lab'))
    const there = (day: string) => world.pushVisit(day, { change: (d) => (d.dynamometer = { id: body.id }) })
    await there('2026-07-02')
    expect(codes(await next())).toEqual([])
    await there('2026-09-02')
    expect(codes(await next())).toEqual(['other_dynamometer'])
  })

  it('of a pinned session that was amended since: the values stay those that were pinned', async () => {
    const pushed = await world.pushVisit('2026-09-02')
    await pin(pushed, 'right-knee')
    const session = world.visit('2026-09-02', { change: (d) => (d.setups[1].settings.seatDepth.value = 44) })
    session.externalId = pushed.session.externalId
    const amended = await world.clinician.post(`/v1/sessions/${pushed.session.id}/amendments`, { reason: 'Misread', session }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect(amended.status, amended.text).toBe(200)
    const found = await next()
    expect(codes(found)).toEqual(['reference_amended'])
    expect(dialOf(found, 'seatDepth').value).toEqual({ value: 42, unit: 'cm' })
  })

  it('of a pinned session that was withdrawn since', async () => {
    const session = await world.pushVisit('2026-09-02')
    await pin(session, 'right-knee')
    await world.clinician.post(`/v1/sessions/${session.session.id}/entered-in-error`, { reason: 'Another person' }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect(codes(await next())).toEqual(['reference_withdrawn'])
  })
})

describe('a plan', () => {
  const planUrl = () => `/v1/subjects/${world.subjectId}/test-plans`
  const plan = (change: object = {}) => ({
    joint: 'knee',
    side: 'right',
    dynamometer: { id: world.dynamometerId },
    plannedOn: '2026-03-10',
    sets: [
      {
        contractionScheme: 'reciprocal',
        directions: [
          { movement: 'extension', contractionMode: 'isokinetic_concentric', velocity: { value: 180, unit: 'deg/s' } },
          { movement: 'flexion', contractionMode: 'isokinetic_concentric', velocity: { value: 180, unit: 'deg/s' } },
        ],
        intendedRepetitions: 10,
      },
    ],
    stops: { extension: { value: 45, unit: 'deg' }, flexion: { value: 90, unit: 'deg' } },
    ...change,
  })
  const withPrecautions = (precautions: object[]) =>
    makeWorld(service, { episode: (body) => void (body.precautions = precautions) })
  const week = { kind: 'earliest_week', week: 12, setBy: 'surgeon' }
  const range = { kind: 'range_limit', lowest: { value: 45, unit: 'deg' }, highest: { value: 90, unit: 'deg' }, movement: 'extension', untilWeek: 20, setBy: 'surgeon' } // prettier-ignore

  it('within all precautions is stored and becomes the planned test of the next setup', async () => {
    await world.pushVisit('2026-02-20')
    const answer = await world.machine.post(planUrl(), plan())
    expect(answer.status, answer.text).toBe(201)
    expect(answer.body).toMatchObject({ beyondPrecautions: [], precautionReason: null })
    expect((await world.clinician.get(planUrl())).body.items).toEqual([answer.body])
    const { plannedTest } = await next()
    expect(plannedTest).toMatchObject({ origin: 'plan', planId: answer.body.id, plannedOn: '2026-03-10' })
    expect(plannedTest.sets[0]).toMatchObject({ intendedRepetitions: 10 })
  })

  it('stands until a visit on its day or later, not until the next visit of any kind', async () => {
    const at = (days: number) => new Date(Date.now() + days * 24 * 3_600_000).toISOString()
    const origin = async () => (await next('right', at(11).slice(0, 10))).plannedTest.origin
    const on = (plannedOn: string) => world.clinician.post(planUrl(), plan({ plannedOn }))
    // In ten days; meanwhile somebody tests the limb, an hour from now by the clock of the machine
    expect((await on(at(10).slice(0, 10))).status).toBe(201)
    await world.pushVisit(at(1 / 24))
    expect(await origin()).toBe('plan')
    // For yesterday: the visit after it carried it out
    world = await makeWorld(service)
    expect((await on(at(-1).slice(0, 10))).status).toBe(201)
    expect(await origin()).toBe('plan')
    await world.pushVisit(at(1 / 24))
    expect(await origin()).toBe('last_session')
  })

  // Surgery was on 2026-02-10: 2026-03-10 is 4 weeks after it
  it('that breaks a precaution is refused with 422 and named, and nothing is stored', async () => {
    world = await withPrecautions([week])
    const answer = await world.clinician.post(planUrl(), plan())
    expect([answer.status, answer.body.code]).toEqual([422, 'precaution_broken'])
    expect(answer.body.errors).toEqual([
      { pointer: '#/sets/0', code: 'precaution_broken', message: 'any test, any movement: not before week 12 after surgery (set by the surgeon).' }, // prettier-ignore
    ])
    expect((await world.clinician.get(planUrl())).body.items).toEqual([])
    expect((await world.clinician.post(planUrl(), plan({ side: 'left' }))).status).toBe(201)
    expect((await world.clinician.post(planUrl(), plan({ plannedOn: '2026-05-05' }))).status).toBe(201)
  })

  it('goes beyond a precaution with the reason of a licensed clinician, and of nobody else', async () => {
    world = await withPrecautions([week])
    const body = plan({ precautionReason: 'Agreed with the surgeon by telephone' })
    expect((await world.owner.post(planUrl(), body)).status).toBe(403)
    expect((await world.machine.post(planUrl(), body)).status).toBe(403)
    const answer = await world.clinician.post(planUrl(), body)
    expect(answer.status, answer.text).toBe(201)
    expect(answer.body).toMatchObject({ precautionReason: 'Agreed with the surgeon by telephone', beyondPrecautions: [expect.stringContaining('week 12')] }) // prettier-ignore
    const { plannedTest } = await next('right', '2026-03-10')
    expect(plannedTest.sets[0].beyond).toEqual(['any test, any movement: not before week 12 after surgery'])
    expect(plannedTest.precautionReason).toBe('Agreed with the surgeon by telephone')
  })

  it('without stops cannot keep a range limit; within them it does', async () => {
    world = await withPrecautions([range])
    expect((await world.clinician.post(planUrl(), plan())).status).toBe(201)
    expect((await world.clinician.post(planUrl(), plan({ stops: undefined }))).status).toBe(422)
    const wider = { extension: { value: 30, unit: 'deg' }, flexion: { value: 90, unit: 'deg' } }
    expect((await world.clinician.post(planUrl(), plan({ stops: wider }))).status).toBe(422)
  })

  it('with a reason and no broken precaution is told that there is nothing to give a reason for', async () => {
    const answer = await world.clinician.post(planUrl(), plan({ precautionReason: 'Just in case' }))
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer: '#/precautionReason', code: 'not_applicable' }])
  })

  it('is refused whole: a movement of another joint, a machine that is not there, a subject of another clinic', async () => {
    const wrong = plan()
    wrong.sets[0]!.directions[0]!.movement = 'plantar_flexion'
    expect((await world.clinician.post(planUrl(), wrong)).body.errors[0]).toMatchObject({ pointer: '#/sets/0/directions/0/movement' }) // prettier-ignore
    expect((await world.clinician.post(planUrl(), plan({ dynamometer: { id: uuidv7() } }))).body.errors).toMatchObject([{ pointer: '#/dynamometer' }]) // prettier-ignore
    const other = await makeWorld(service)
    expect((await other.clinician.post(planUrl(), plan())).status).toBe(404)
  })

  it('is refused where no machine can do it: stops the wrong way round or of another joint, half a reciprocal set, a speed of 0', async () => {
    const faults = async (change: object) => {
      const answer = await world.clinician.post(planUrl(), plan(change))
      expect(answer.status).toBe(400)
      return answer.body.errors.map((one: LooseDocument) => `${one.code} ${one.pointer}`)
    }
    const [set] = plan().sets
    const [extension, flexion] = set!.directions
    const stops = { extension: { value: 90, unit: 'deg' }, flexion: { value: 45, unit: 'deg' } }
    expect(await faults({ stops })).toEqual(['stops_reversed #/stops/flexion'])
    expect(await faults({ stops: { inversion: { value: 5, unit: 'deg' } } })).toEqual(['movement_not_of_joint #/stops/inversion']) // prettier-ignore
    expect(await faults({ sets: [{ ...set, directions: [extension] }] })).toEqual(['too_few #/sets/0/directions'])
    const still = { ...extension, velocity: { value: 0, unit: 'deg/s' } }
    expect(await faults({ sets: [{ ...set, directions: [still, flexion] }] })).toEqual(['out_of_range #/sets/0/directions/0/velocity/value']) // prettier-ignore
  })

  it('brings its own stops to the sheet, for a first test of the limb too', async () => {
    world = await withPrecautions([range])
    const stops = { extension: { value: 50, unit: 'deg' }, flexion: { value: 80, unit: 'deg' } }
    expect((await world.clinician.post(planUrl(), plan({ stops }))).status).toBe(201)
    const first = await next('right', '2026-03-10')
    const shown = [
      { movement: 'extension', value: stops.extension, origin: 'plan', limitedBy: null },
      { movement: 'flexion', value: stops.flexion, origin: 'plan', limitedBy: null },
    ]
    expect(first.mechanicalStops).toEqual(shown)
    expect([first.plannedTest.sets.length, first.plannedTest.leftOut]).toEqual([1, []])
    await world.pushVisit('2026-03-09')
    // The plan was made before this visit was pushed, and is for the day after it
    expect((await world.clinician.post(planUrl(), plan({ stops }))).status).toBe(201)
    expect((await next('right', '2026-03-10')).mechanicalStops).toEqual(shown)
  })

  it('with a reason goes beyond the precautions it was given for, and no others', async () => {
    world = await withPrecautions([range, week])
    const wide = { extension: { value: 0, unit: 'deg' }, flexion: { value: 100, unit: 'deg' } }
    const body = plan({ stops: wide, precautionReason: 'Agreed with the surgeon by telephone' })
    expect((await world.clinician.post(planUrl(), body)).status).toBe(201)
    const before = await next('right', '2026-03-10')
    expect(before.mechanicalStops.map((stop: LooseDocument) => [stop.value.value, stop.limitedBy])).toEqual([[0, null], [100, null]]) // prettier-ignore
    expect([before.plannedTest.sets.length, before.plannedTest.leftOut]).toEqual([1, []])

    const episode = await world.clinician.get(`/v1/episodes/${world.episodeId}`)
    const { id: _, subjectId: _s, version: _v, recordedAt: _r, ...written } = episode.body
    const excluded = { kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_concentric', setBy: 'surgeon' }
    const edited = { ...written, precautions: [...written.precautions, excluded] }
    const answer = await world.clinician.put(`/v1/episodes/${world.episodeId}`, edited, '"1"')
    expect(answer.status, answer.text).toBe(200)
    const { plannedTest } = await next('right', '2026-03-10')
    expect(plannedTest.sets).toEqual([])
    expect(plannedTest.leftOut[0].beyond).toContain('isokinetic concentric, any movement: not to be tested')
  })

  it('is narrowed in the pair of movements that a limit speaks of, and in no other', async () => {
    const hip = { kind: 'range_limit', movement: 'flexion', lowest: { value: 0, unit: 'deg' }, highest: { value: 90, unit: 'deg' }, setBy: 'surgeon' } // prettier-ignore
    world = await makeWorld(service, { episode: (body) => Object.assign(body, { joint: 'hip', precautions: [hip] }) })
    const angles = { extension: -10, flexion: 110, adduction: -20, abduction: 40 }
    const stops = Object.fromEntries(Object.entries(angles).map(([name, value]) => [name, { value, unit: 'deg' }]))
    await world.pushVisit('2026-09-02', { change: (d) => d.setups.forEach((setup: LooseDocument) => Object.assign(setup, { joint: 'hip', stops })) }) // prettier-ignore
    const { body } = await world.clinician.get(url(world, 'right').replace('joint=knee', 'joint=hip'))
    const shown = body.mechanicalStops.map((stop: LooseDocument) => [stop.movement, stop.value.value])
    expect(Object.fromEntries(shown)).toEqual({ extension: 0, flexion: 90, adduction: -20, abduction: 40 })
  })

  it('left out of the sheet: a set of the last visit that a precaution forbids today, and stops narrowed to a limit', async () => {
    world = await withPrecautions([range, { kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_eccentric', setBy: 'clinic' }]) // prettier-ignore
    await world.pushVisit('2026-04-02')
    const { mechanicalStops, plannedTest, precautionsAndLimits } = await next('right', '2026-04-20')
    expect(mechanicalStops[0]).toEqual({
      movement: 'extension',
      value: { value: 45, unit: 'deg' },
      origin: 'last_session',
      limitedBy: { precaution: 'range_limit', instead: { value: 5, unit: 'deg' } },
    })
    expect(mechanicalStops[1]).toMatchObject({ value: { value: 90 }, limitedBy: { instead: { value: 95 } } })
    // Within the narrowed stops the set may be done
    expect(plannedTest.leftOut).toEqual([])
    expect(precautionsAndLimits.episodes[0].precautions.map((one: LooseDocument) => one.inForce)).toEqual([
      'yes',
      'yes',
    ])
    const eccentric = await withPrecautions([week])
    await eccentric.pushVisit('2026-05-20')
    const early = (await eccentric.clinician.get(url(eccentric, 'right', '2026-04-20'))).body
    expect(early.plannedTest).toMatchObject({ sets: [], leftOut: [{ beyond: ['any test, any movement: not before week 12 after surgery'] }] }) // prettier-ignore
  })
})

describe('the next setup is refused', () => {
  it('400 without a side, 403 for an auditor, 404 for another clinic’s subject, 422 for a machine that is not there', async () => {
    const bare = `/v1/subjects/${world.subjectId}/next-setup?joint=knee&dynamometerId=${world.dynamometerId}`
    expect((await world.clinician.get(bare)).body.errors).toMatchObject([{ pointer: '#/query/side' }])
    expect((await service.api(world.clinic.tokens.auditor).get(url(world, 'right'))).status).toBe(403)
    expect((await service.api(null).get(url(world, 'right'))).status).toBe(401)
    const other = await makeWorld(service)
    expect((await other.clinician.get(url(world, 'right'))).status).toBe(404)
    expect((await world.clinician.get(url(world, 'right', '2026-10-01', other.dynamometerId))).status).toBe(422)
  })
})
