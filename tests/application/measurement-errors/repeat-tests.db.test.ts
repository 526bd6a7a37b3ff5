import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { countStatements } from '../../harness/count-statements.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, worldIn, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
const URL_ = '/v1/measurement-errors/from-repeats'

/** Hopkins 2000, Sports Med 30:1-15: five people, two trials. */
const FIRST = [62, 78, 81, 55, 66]
const SECOND = [67, 76, 87, 55, 63]

const question = {
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  measure: 'peakTorque',
  statistic: 'best',
  scale: 'absolute',
  limbCondition: 'no_history',
}
const ask = (more: Record<string, string> = {}) =>
  `${URL_}?${new URLSearchParams({ ...question, velocity: '60 deg/s', ...more }).toString()}`
const body = (more: object = {}) => ({ ...question, velocity: { value: 60, unit: 'deg/s' }, ...more })

let world: World
let people: World[]

const visit = (person: World, day: string, torque: number, change: (document: LooseDocument) => void = () => {}) =>
  person.pushVisit(day, {
    extension: { left: torque, right: torque / 2 },
    change: (document) => {
      document.dynamometer = { id: world.dynamometerId, descriptionVersion: 1 }
      change(document)
    },
  })
const repeats = (first?: LooseDocument) => (document: LooseDocument) => {
  document.purpose = 'repeat_test'
  if (first !== undefined) document.repeatOf = { id: first.session.id }
}

/** A person tested twice, two days apart. */
async function twice(
  person: World,
  first: number,
  second: number,
  change: (document: LooseDocument) => void = () => {},
) {
  const before = await visit(person, '2026-06-02', first)
  return visit(person, '2026-06-04', second, (document) => {
    repeats(before)(document)
    change(document)
  })
}

const read = async (more?: Record<string, string>): Promise<LooseDocument> => {
  const answer = await world.clinician.get(ask(more))
  expect(answer.status, answer.text).toBe(200)
  return answer.body
}

beforeAll(async () => {
  world = await makeWorld(service)
  people = [world]
  for (let n = 2; n <= 5; n++) people.push(await worldIn(service, world.clinic, `RB-${n}`, { calibrated: false }))
  for (const [index, person] of people.entries()) await twice(person, FIRST[index]!, SECOND[index]!)
}, 120_000)

describe('repeat tests', () => {
  it('give the printed error of the published pairs: typical error 2.9, shift 1.2; not enough to be used', async () => {
    const { all, leftOut, pairs } = await read()
    expect(all.pairs).toBe(5)
    // Printed 2.9 and 1.2; computed to six digits
    expect(all.estimate.typicalError.value).toBeCloseTo(2.889637, 6)
    expect(all.estimate.learningShift.value).toBeCloseTo(1.2, 9)
    expect(all.estimate.notes).toMatchObject([{ code: 'clinic_pairs_too_few' }])
    expect(all.estimate.intraclassCorrelation.forms.map((one: LooseDocument) => one.form)).toContain('ICC(2,1)')
    expect(leftOut.map((one: LooseDocument) => one.reason)).toEqual(Array(5).fill('other_limb_condition'))
    expect(pairs[0]).toMatchObject({ first: { value: 62 }, second: { value: 67 }, unit: 'N.m' })
    const percent = await read({ scale: 'percent' })
    expect(percent.all.estimate.typicalError.value).toBeCloseTo(4.0794, 4)
  })

  it('are told by operator and by machine, each with its own number of pairs', async () => {
    const { byOperator, byDynamometer } = await read()
    expect(byOperator).toMatchObject([{ operatorId: world.clinic.principals.clinician, pairs: 5 }])
    expect(byDynamometer).toMatchObject([{ dynamometerId: world.dynamometerId, pairs: 5 }])
  })

  it('of another kind of limb are the other limbs: too small a torque for these, the same people', async () => {
    const { all } = await read({ limbCondition: 'operated' })
    expect(all).toMatchObject({ pairs: 5 })
    expect(all.estimate.learningShift.value).toBeCloseTo(0.6, 9)
  })

  it('count one pair a person, and leave out with a reason what is no pair', async () => {
    const [one] = people
    const reasonsOf = (found: LooseDocument) => found.leftOut.filter((row: LooseDocument) => row.reason !== 'other_limb_condition').map((row: LooseDocument) => row.reason) // prettier-ignore
    const first = await visit(one!, '2026-07-01', 70)
    await visit(one!, '2026-07-02', 71, repeats(first))
    const twicePaired = await read()
    expect(twicePaired.all.pairs).toBe(5)
    expect(reasonsOf(twicePaired)).toEqual(['another_pair_of_this_person'])
    expect(twicePaired.pairs[0]).toMatchObject({ first: { value: 70 }, second: { value: 71 } })

    await visit(one!, '2026-08-01', 72)
    await visit(one!, '2026-08-20', 73, repeats())
    expect(reasonsOf(await read()).sort()).toEqual(['another_pair_of_this_person', 'too_many_days_apart'])
    expect(reasonsOf(await read({ withinDays: '30' })).sort()).toEqual(Array(2).fill('another_pair_of_this_person'))

    const straps = await visit(one!, '2026-09-01', 74)
    await visit(one!, '2026-09-02', 75, (document) => {
      repeats(straps)(document)
      document.setups[0].stabilisation.trunkStraps = 'none'
    })
    expect(reasonsOf(await read())).toContain('setups_not_comparable')
    await visit(one!, '2026-09-20', 76)
    await visit(one!, '2026-09-21', 77, (document) => {
      repeats()(document)
      document.screening.pain.during.value = 6
    })
    expect(reasonsOf(await read()).some((reason: string) => reason.startsWith('pain'))).toBe(true)
    // All those attempts changed nothing of the five pairs that stand
    expect((await read()).all.pairs).toBe(5)
  })

  it('are adopted from a stated number on: ten pairs judge changes of that series, five do not', async () => {
    const five = await world.owner.post(URL_, body())
    expect(five.status, five.text).toBe(201)
    expect(five.body).toMatchObject({ pairs: 5, minimumPairs: 10, source: expect.stringMatching(/^own repeat tests, 5 pairs, 2026-0\d-\d\d to 2026-0\d-\d\d$/) }) // prettier-ignore
    expect((await world.trend('left')).errorModel.kind).not.toBe('clinic_test_retest')
    for (let n = 6; n <= 10; n++) {
      const person = await worldIn(service, world.clinic, `RB-${n}`, { calibrated: false })
      await twice(person, 100 + n, 101 + n)
    }
    const ten = await world.owner.post(URL_, body({ source: 'own repeat tests of the summer' }))
    expect(ten.body).toMatchObject({ pairs: 10, source: 'own repeat tests of the summer' })
    const { errorModel } = await world.trend('left')
    expect(errorModel).toMatchObject({ kind: 'clinic_test_retest', pairs: 10, source: 'own repeat tests of the summer' }) // prettier-ignore
    expect(errorModel.standardErrorOfMeasurement.value).toBeCloseTo(ten.body.standardErrorOfMeasurement.value, 12)
    // The operated limb is not judged by limbs without a history
    expect((await world.trend('right')).errorModel.kind).not.toBe('clinic_test_retest')
  }, 120_000)

  it('of one operator judge what that operator tested twice; else the clinic’s own does, and the answer names which', async () => {
    const { clinician, assistant } = world.clinic.principals
    const all = await world.owner.post(URL_, body({ source: 'of all' }))
    const hers = await world.owner.post(URL_, body({ source: 'of one operator', operator: { id: clinician } }))
    expect(all.body).toMatchObject({ scope: 'clinic', pairs: 10 })
    expect(hers.body).toMatchObject({ scope: 'operator', operatorId: clinician, pairs: 10, minimumPairs: 10 })
    // A wider error adopted later does not take the place of the narrower one
    await world.owner.post(URL_, body({ source: 'of all, later' }))
    const person = await worldIn(service, world.clinic, 'RB-50', { calibrated: false })
    const by = (operator: string | null) => (document: LooseDocument) => {
      if (operator === null) delete document.operator
      else document.operator = { id: operator }
    }
    await visit(person, '2026-03-01', 150, by(clinician))
    await visit(person, '2026-04-01', 180, by(clinician))
    await visit(person, '2026-05-01', 190, by(assistant))
    await visit(person, '2026-06-01', 195, by(null))
    await visit(person, '2026-07-01', 199, by(null))
    const { points, errorModel, runs } = await person.trend('left')
    const judgedBy = points.map((point: LooseDocument) => point.changeFromPrevious?.judgedBy)
    expect(judgedBy).toMatchObject([
      undefined,
      { kind: 'clinic_test_retest', scope: 'operator', operatorId: clinician, source: 'of one operator' },
      // One of the two tests was another's, or nobody's
      { kind: 'clinic_test_retest', scope: 'clinic', source: 'of all, later' },
      { scope: 'clinic', source: 'of all, later' },
      { scope: 'clinic', source: 'of all, later' },
    ])
    expect(judgedBy[2]).not.toHaveProperty('operatorId')
    expect(errorModel).toMatchObject({ kind: 'clinic_test_retest', scope: 'clinic' })
    expect(runs).toHaveLength(1)
    const { items } = (await world.owner.get('/v1/measurement-errors?limit=200')).body
    expect(items).toEqual(expect.arrayContaining([all.body, hers.body]))
  }, 120_000)

  it('of one machine, and of one operator on it, are narrower still; of fewer than ten pairs they are passed over', async () => {
    const { clinician } = world.clinic.principals
    const dynamometer = { id: world.dynamometerId }
    const machine = await world.owner.post(URL_, body({ dynamometer }))
    expect(machine.body).toMatchObject({ scope: 'dynamometer', dynamometerId: world.dynamometerId, source: expect.stringMatching(/^own repeat tests on one machine, 10 pairs/) }) // prettier-ignore
    const person = await worldIn(service, world.clinic, 'RB-51', { calibrated: false })
    await visit(person, '2026-03-01', 150)
    await visit(person, '2026-04-01', 180)
    const scopeNow = async () => (await person.trend('left')).points[1].changeFromPrevious.judgedBy.scope
    expect(await scopeNow()).toBe('operator')
    const both = await world.owner.post(URL_, body({ operator: { id: clinician }, dynamometer }))
    expect(both.body).toMatchObject({ scope: 'operator_and_dynamometer', pairs: 10 })
    expect(await scopeNow()).toBe('operator_and_dynamometer')
    // Three pairs of the clinician's own on that machine, written down: kept, and not used
    const pairs = [[150, 152], [160, 155], [170, 177]].map(([a, b]) => ({ first: { value: a, unit: 'N.m' }, second: { value: b, unit: 'N.m' } })) // prettier-ignore
    const { statistic: _, ...identity } = body()
    const few = await world.owner.post('/v1/measurement-errors', { ...identity, source: 'three pairs', pairs, operator: { id: clinician }, dynamometer }) // prettier-ignore
    expect(few.status, few.text).toBe(201)
    expect((await person.trend('left')).points[1].changeFromPrevious.judgedBy.source).not.toBe('three pairs')
  }, 120_000)

  it('of nobody, or of another clinic’s people and machines, are refused alike', async () => {
    const other = await makeWorld(service)
    for (const [name, reference] of [
      ['operator', { id: other.clinic.principals.clinician }],
      ['operator', { id: uuidv7() }],
      ['dynamometer', { id: other.dynamometerId }],
      ['dynamometer', { id: uuidv7() }],
    ] as const) {
      const refused = await world.owner.post(URL_, body({ [name]: reference }))
      expect(refused.status).toBe(422)
      expect(refused.body).toMatchObject({ code: 'reference_not_found', errors: [{ pointer: `#/${name}` }] })
    }
    const nobodys = await world.owner.post(URL_, body({ operator: { id: world.clinic.principals.assistant } }))
    expect(nobodys.body.errors).toMatchObject([{ code: 'fewer_than_three_pairs' }])
  })

  it('of another clinic are never among them', async () => {
    const other = await makeWorld(service)
    const found = await other.clinician.get(ask())
    expect(found.body).toMatchObject({ all: { pairs: 0, estimate: null, reason: 'fewer_than_three_pairs' }, pairs: [], leftOut: [] }) // prettier-ignore
    const refused = await other.owner.post(URL_, body())
    expect(refused.status).toBe(400)
    expect(refused.body.errors).toMatchObject([{ code: 'fewer_than_three_pairs' }])
  })
})

describe('repeat tests and the days between', () => {
  const statementsOf = async (lab: World) => (await countStatements(() => lab.clinician.get(ask()))).statements

  it('go by the calendar: the same day is no day apart, whatever the hour, and a fortnight is 14 days', async () => {
    const lab = await makeWorld(service)
    const on = (document: LooseDocument) => (document.dynamometer = { id: lab.dynamometerId, descriptionVersion: 1 })
    const days: readonly (readonly [string, string])[] = [
      ['2026-06-02T09:00:00+02:00', '2026-06-02T17:30:00+02:00'],
      ['2026-06-02T09:00:00+02:00', '2026-06-16T17:30:00+02:00'],
      ['2026-06-02T17:30:00+02:00', '2026-06-17T09:00:00+02:00'],
    ]
    let ofOne = 0
    for (const [index, [first, second]] of days.entries()) {
      const person = index === 0 ? lab : await worldIn(service, lab.clinic, `RB-7${index}`, { calibrated: false })
      const before = await visit(person, first, 70, on)
      if (index === 1) await visit(person, '2026-06-10', 99, on)
      await visit(person, second, 71, (document) => {
        on(document)
        repeats(before)(document)
        // Named by the id of its source, and not the test that came between
        if (index === 1) document.repeatOf = { externalId: before.session.externalId }
      })
      if (index === 0) ofOne = await statementsOf(lab)
    }
    // Three people are read with as many statements as one
    expect(await statementsOf(lab)).toBe(ofOne)
    const pairsWithin = async (withinDays?: string) =>
      (await lab.clinician.get(ask(withinDays === undefined ? {} : { withinDays }))).body.all.pairs as number
    expect([await pairsWithin('0'), await pairsWithin('13'), await pairsWithin(), await pairsWithin('15')]).toEqual([1, 1, 2, 3]) // prettier-ignore
  }, 60_000)
})

describe('repeat tests by two operators on two machines', () => {
  it('are told by operator on a machine as well, and an error adopted for both rests on those pairs', async () => {
    const lab = await makeWorld(service)
    const { clinician, assistant } = lab.clinic.principals
    const here = { id: lab.dynamometerId, descriptionVersion: 1 }
    const test = async (n: number, torques: readonly [number, number], by: readonly [string, string], on?: object) => {
      const person = n === 1 ? lab : await worldIn(service, lab.clinic, `RB-${n}`, { calibrated: false })
      const machine = on ?? { id: person.dynamometerId, descriptionVersion: 1 }
      const make = (i: 0 | 1, first?: LooseDocument) => visit(person, `2026-06-0${2 + 2 * i}`, torques[i], (document) => {
        if (i === 1) repeats(first)(document)
        document.operator = { id: by[i] }
        document.dynamometer = machine
      }) // prettier-ignore
      await make(1, await make(0))
      return person.dynamometerId
    }
    for (const [n, first, second] of [[1, 62, 67], [2, 78, 76], [3, 81, 87]] as const) await test(n, [first, second], [clinician, clinician], here) // prettier-ignore
    const there = await test(4, [55, 55], [clinician, clinician])
    await test(5, [66, 63], [assistant, assistant], here)
    await test(6, [70, 71], [clinician, assistant], here)
    const { all, byOperator, byDynamometer, byOperatorAndDynamometer: byBoth } = (await lab.clinician.get(ask())).body
    const counts = (groups: LooseDocument[]) => groups.map(({ operatorId, dynamometerId, pairs }) => [operatorId, dynamometerId, pairs]) // prettier-ignore
    expect(all.pairs).toBe(6)
    expect(counts(byOperator)).toEqual(expect.arrayContaining([[clinician, undefined, 4], [assistant, undefined, 1], [null, undefined, 1]])) // prettier-ignore
    expect(counts(byDynamometer)).toEqual(
      expect.arrayContaining([
        [undefined, here.id, 5],
        [undefined, there, 1],
      ]),
    )
    expect(counts(byBoth)).toHaveLength(4)
    expect(counts(byBoth)).toEqual(expect.arrayContaining([[clinician, here.id, 3], [clinician, there, 1], [assistant, here.id, 1], [null, here.id, 1]])) // prettier-ignore
    // Differences 5, -2 and 6: squares sum to 65, over twice three pairs
    const narrowest = byBoth.find(({ pairs }: LooseDocument) => pairs === 3)
    expect(narrowest.estimate.standardErrorOfMeasurement.value).toBeCloseTo(Math.sqrt(65 / 6), 9)
    expect(narrowest.estimate.standardErrorOfMeasurement.interval.confidence).toBe(0.95)
    expect(byBoth.filter(({ pairs }: LooseDocument) => pairs < 3)).toMatchObject(Array(3).fill({ estimate: null, reason: 'fewer_than_three_pairs' })) // prettier-ignore
    const adopted = await lab.owner.post(URL_, body({ operator: { id: clinician }, dynamometer: { id: here.id } }))
    expect(adopted.body).toMatchObject({ scope: 'operator_and_dynamometer', ...narrowest.estimate })
  }, 60_000)
})

describe('a repeat test', () => {
  it('names a session of the same person, or is refused; and only a repeat test names one', async () => {
    const [one, two] = people
    const theirs = await visit(two!, '2026-06-10', 70)
    const send = async (repeatOf: object, purpose = 'repeat_test') => {
      const document = one!.visit('2026-06-11')
      Object.assign(document, { purpose, repeatOf })
      return (await one!.machine.post('/v1/sessions', document)).body
    }
    expect(await send({ id: theirs.session.id })).toMatchObject({ code: 'reference_not_found', errors: [{ pointer: '#/repeatOf' }] }) // prettier-ignore
    expect(await send({ id: uuidv7() })).toMatchObject({ code: 'reference_not_found', errors: [{ pointer: '#/repeatOf' }] }) // prettier-ignore
    expect(await send({ id: theirs.session.id }, 'progress_test')).toMatchObject({ status: 400, errors: [{ pointer: '#/repeatOf', code: 'not_applicable' }] }) // prettier-ignore
  })
})

describe('the routine is refused', () => {
  it('400 for a query or a document with faults, 401, 403', async () => {
    expect((await world.clinician.get(ask({ limbCondition: 'sore' }))).body.errors).toMatchObject([{ pointer: '#/query/limbCondition' }]) // prettier-ignore
    expect((await world.clinician.get(ask({ withinDays: '400' }))).status).toBe(400)
    expect((await world.owner.post(URL_, body({ measure: 'torqueAtAngle' }))).body.errors).toMatchObject([{ pointer: '#/angle' }]) // prettier-ignore
    expect((await service.api(null).get(ask())).status).toBe(401)
    expect((await service.api(world.clinic.tokens.auditor).get(ask())).status).toBe(403)
    expect((await world.machine.post(URL_, body())).status).toBe(403)
  })
})
