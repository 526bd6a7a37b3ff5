import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, worldIn, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
let limbs = 0
beforeAll(async () => {
  world = await makeWorld(service, {
    episode: (body) => void (body.precautions = [{ kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_eccentric', setBy: 'surgeon' }]), // prettier-ignore
  })
  const first = await world.pushVisit('2026-06-02')
  const url = `/v1/subjects/${world.subjectId}/reference-setups`
  await world.clinician.post(url, { session: { id: first.session.id }, setup: 'right-knee', reason: 'First test' })
})

/** The setup of the reference without what is measured anew, changed. */
function draft(change: (setup: LooseDocument) => void = () => {}, more: object = {}) {
  const setup = world.visit('2026-10-01').setups[1]
  delete setup.anatomicalZero
  delete setup.axisCheck
  delete setup.limbWeighing
  change(setup)
  return {
    subject: { id: world.subjectId },
    dynamometer: { id: world.dynamometerId },
    setup,
    directions: [{ movement: 'extension', contractionMode: 'isokinetic_concentric', velocity: { value: 60, unit: 'deg/s' } }], // prettier-ignore
    ...more,
  }
}

const ask = (body: object) => world.machine.post('/v1/calculations/preflight', body, { key: null })

async function judged(change?: (setup: LooseDocument) => void): Promise<Record<string, LooseDocument>> {
  const answer = await ask(draft(change))
  expect(answer.status, answer.text).toBe(200)
  return Object.fromEntries(answer.body.directions[0].measures.map((one: LooseDocument) => [one.measure, one]))
}

const nothing = { putBack: [], measureAgain: [], unknownInReference: [] }

describe('a draft setup', () => {
  it('like the reference will compare in every measure, once zero, axis and weight are measured', async () => {
    const answer = await ask(draft())
    expect(answer.body.stillToMeasure).toEqual(['anatomical_zero', 'axis_check', 'limb_weight'])
    for (const one of answer.body.directions[0].measures) {
      expect(one).toEqual({ measure: one.measure, verdict: 'comparable', toCompare: nothing, toCompareWithoutCaution: nothing, reasons: [] }) // prettier-ignore
    }
    expect(answer.body.directions[0].measures.length).toBeGreaterThan(15)
  })

  it('says what to put back, per measure: a seat angle for all, a range of motion for work alone', async () => {
    const found = await judged((setup) => {
      setup.settings.backrestAngle.value = 65
      setup.stops.flexion.value = 107
    })
    const backrest = { factor: 'backrest_angle', to: { value: 85, unit: 'deg' }, now: { value: 65, unit: 'deg' } }
    const range = { factor: 'range_of_motion', to: '5 to 95 deg', now: '5 to 107 deg' }
    expect(found['peakTorque']).toMatchObject({ verdict: 'not_comparable', toCompare: { putBack: [backrest] }, toCompareWithoutCaution: { putBack: [range] } }) // prettier-ignore
    expect(found['workPerRepetition']).toMatchObject({ verdict: 'not_comparable', toCompare: { putBack: [range, backrest] }, toCompareWithoutCaution: nothing }) // prettier-ignore
  })

  it('names the least that must change: with it put back the measure compares, with any one left it does not', async () => {
    const changes: Record<string, (setup: LooseDocument) => void> = {
      trunk_straps: (setup) => (setup.stabilisation.trunkStraps = 'none'),
      hands: (setup) => (setup.stabilisation.hands = 'resting'),
      seat_depth: (setup) => (setup.settings.seatDepth.value = 46),
      lever_arm_length: (setup) => (setup.attachment.leverArmLength.value = 0.34),
    }
    const factors = Object.keys(changes)
    const withChanges = (names: string[]) => judged((setup) => names.forEach((name) => changes[name]!(setup)))
    const all = await withChanges(factors)
    const named: string[] = all['peakTorque']!.toCompare.putBack.map((one: LooseDocument) => one.factor)
    expect([...named].sort()).toEqual([...factors].sort())
    for (const left of factors) {
      expect((await withChanges([left]))['peakTorque']!.verdict, left).toBe('not_comparable')
    }
    expect((await withChanges([]))['peakTorque']!.verdict).toBe('comparable')
  })

  it('holds a dial against the tolerance and the effect the clinic gave it, for the measures it affects and no others', async () => {
    const own = await worldIn(service, world.clinic, `PF-${++limbs}`, {
      dynamometer: (body) => {
        const dial = { label: 'A dial', kind: 'quantity', unit: 'mm', range: { low: 0, high: 100 }, mirror: 'same' }
        body.settings.push({ ...dial, key: 'shim', tolerance: { value: 0.5, unit: 'cm' }, affects: ['torqueAtAngle'], effectBeyondTolerance: 'not_comparable' }) // prettier-ignore
      },
    })
    const shim = (value: number) => (setup: LooseDocument) => (setup.settings.shim = { value, unit: 'mm' })
    const first = await own.pushVisit('2026-06-02', { change: (d) => shim(20)(d.setups[1]) })
    await own.clinician.post(`/v1/subjects/${own.subjectId}/reference-setups`, { session: { id: first.session.id }, setup: 'right-knee', reason: 'First test' }) // prettier-ignore
    const verdictsAt = async (value: number) => {
      const answer = await ask(draft(shim(value), { subject: { id: own.subjectId }, dynamometer: { id: own.dynamometerId } })) // prettier-ignore
      const measures: LooseDocument[] = answer.body.directions[0].measures
      return measures.filter(({ verdict }) => verdict !== 'comparable')
    }
    expect(await verdictsAt(25)).toEqual([])
    expect(await verdictsAt(25.1)).toMatchObject([
      { measure: 'torqueAtAngle', verdict: 'not_comparable', toCompare: { putBack: [{ factor: 'shim', to: { value: 20, unit: 'mm' }, now: { value: 25.1, unit: 'mm' } }] } }, // prettier-ignore
    ])
  })

  it('with a void zero or weighing is told to measure again, not to put back', async () => {
    const found = await judged((setup) => {
      const before = world.visit('2026-10-01').setups[1]
      setup.anatomicalZero = { ...before.anatomicalZero, afterLastAdjustment: 'no' }
      setup.limbWeighing = { ...before.limbWeighing, afterLastAdjustment: 'no' }
    })
    expect(found['peakTorque']!.toCompare).toEqual({ ...nothing, measureAgain: ['gravity_correction'] })
    expect(found['torqueAtAngle']!.toCompare.measureAgain.sort()).toEqual(['anatomical_zero', 'gravity_correction'])
  })

  it('that leaves something out is not known to compare, and says what to record', async () => {
    const found = await judged((setup) => (setup.stabilisation.hands = 'not_recorded'))
    expect(found['peakTorque']).toMatchObject({ verdict: 'not_assessable', toCompare: { putBack: [{ factor: 'hands', to: 'holding_handles', now: null }] } }) // prettier-ignore
  })

  it('names a precaution that a test in it would go beyond', async () => {
    const eccentric = { movement: 'extension', contractionMode: 'isokinetic_eccentric', velocity: { value: 60, unit: 'deg/s' } } // prettier-ignore
    const answer = await ask(draft(undefined, { directions: [eccentric] }))
    expect(answer.body.beyondPrecautions).toEqual(['isokinetic eccentric, any movement: not to be tested (set by the surgeon).']) // prettier-ignore
  })

  it('of a limb that has no reference has nothing to be held against, and nothing is stored by asking', async () => {
    const left = world.visit('2026-10-01').setups[0]
    const answer = await ask({ ...draft(), setup: left })
    expect(answer.body).toMatchObject({ reference: null, directions: [] })
    const sessions = await world.clinician.get(`/v1/sessions?subjectId=${world.subjectId}`)
    expect(sessions.body.items).toHaveLength(1)
  })
})

describe('what no measurement of today can mend', () => {
  const byEye = { landmark: 'lateral_femoral_condyle', status: 'performed', padTravel: 'none' }

  /** A limb whose reference was recorded so, and what stands in the way of torque at an angle for a draft. */
  async function against(reference: (setup: LooseDocument) => void) {
    const own = await worldIn(service, world.clinic, `PF-${++limbs}`)
    const first = await own.pushVisit('2026-06-02', { change: (d) => reference(d.setups[1]) })
    await own.clinician.post(`/v1/subjects/${own.subjectId}/reference-setups`, { session: { id: first.session.id }, setup: 'right-knee', reason: 'First test' }) // prettier-ignore
    const place = { subject: { id: own.subjectId }, dynamometer: { id: own.dynamometerId } }
    return async (change: (setup: LooseDocument) => void): Promise<LooseDocument> => {
      const answer = await ask(draft(change, place))
      expect(answer.status, answer.text).toBe(200)
      return answer.body.directions[0].measures.find(({ measure }: LooseDocument) => measure === 'torqueAtAngle')
    }
  }

  it('is an axis of the reference that was judged by eye: it is unknown there, however well it is measured now', async () => {
    const judge = await against((setup) => (setup.axisCheck = byEye))
    const measured = world.visit('2026-10-01').setups[1].axisCheck
    for (const axisCheck of [undefined, byEye, measured, { ...measured, afterLastAdjustment: 'no' }]) {
      const found = await judge((setup) => axisCheck !== undefined && (setup.axisCheck = axisCheck))
      expect(found).toMatchObject({ verdict: 'not_assessable', toCompare: { ...nothing, unknownInReference: ['axis_offset'] } }) // prettier-ignore
    }
  })

  it('is a zero or an axis check that the reference lacks, or that was void', async () => {
    const whole = (setup: LooseDocument) => Object.assign(setup, world.visit('2026-10-01').setups[1])
    const lacking = await against((setup) => (delete setup.axisCheck, delete setup.anatomicalZero))
    for (const change of [() => undefined, whole]) {
      const { toCompare } = await lacking(change)
      expect(toCompare).toEqual({ ...nothing, unknownInReference: ['anatomical_zero', 'axis_check_missing'] })
    }
    const moved = await against((setup) => (setup.anatomicalZero.afterLastAdjustment = 'no'))
    expect((await moved(whole)).toCompare).toEqual({ ...nothing, unknownInReference: ['anatomical_zero'] })
  })

  it('is not an axis that the reference knows: measured today, it compares', async () => {
    const judge = await against(() => undefined)
    const eye = await judge((setup) => (setup.axisCheck = byEye))
    expect(eye.toCompare).toEqual({ ...nothing, measureAgain: ['axis_offset'] })
    const measured = await judge((setup) => (setup.axisCheck = world.visit('2026-10-01').setups[1].axisCheck))
    expect(measured.verdict).toBe('comparable')
  })
})

describe('a draft is refused', () => {
  it('400 where the description has no such value, stops are reversed or a movement is of another joint', async () => {
    const pointers = async (body: object) => (await ask(body)).body.errors.map((fault: LooseDocument) => fault.pointer)
    expect(await pointers(draft((setup) => (setup.settings.seatDepth.value = 90)))).toEqual(['#/setup/settings/seatDepth/value']) // prettier-ignore
    expect(await pointers(draft((setup) => (setup.stops.flexion.value = 1)))).toEqual(['#/setup/stops/flexion'])
    const still = { movement: 'extension', contractionMode: 'isokinetic_concentric', velocity: { value: 0, unit: 'deg/s' } } // prettier-ignore
    expect(await pointers(draft(undefined, { directions: [still] }))).toEqual(['#/directions/0/velocity/value'])
    const inversion = { movement: 'inversion', contractionMode: 'isometric', velocity: { value: 0, unit: 'deg/s' } }
    expect(await pointers(draft(undefined, { directions: [inversion] }))).toEqual(['#/directions/0/movement'])
  })

  it('401, 403 and 422 as everywhere', async () => {
    expect((await service.api(null).post('/v1/calculations/preflight', draft())).status).toBe(401)
    expect((await service.api(world.clinic.tokens.auditor).post('/v1/calculations/preflight', draft())).status).toBe(403) // prettier-ignore
    const other = await makeWorld(service)
    expect((await ask(draft(undefined, { subject: { id: other.subjectId } }))).status).toBe(422)
    expect((await ask(draft(undefined, { dynamometer: { id: other.dynamometerId } }))).status).toBe(422)
  })
})
