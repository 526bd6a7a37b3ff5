import { beforeAll, describe, expect, it } from 'vitest'
import { DEFAULT_COMPARABILITY_RULES } from '../../../src/compute/index.ts'
import { dynamometerDocument } from '../../../src/domain/dynamometer-document.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { dynamometerWithSettings, makeWorld } from '../../application/sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
beforeAll(async () => {
  clinic = await freshClinic(service)
})

describe('the starter description', () => {
  it('is a document that can be posted as it is, and with dials of the clinic', async () => {
    const owner = service.api(clinic.tokens.owner)
    const { document } = (await owner.get('/v1/dynamometers/starter')).body
    const asItIs = await owner.post('/v1/dynamometers', document)
    expect(asItIs.status, asItIs.text).toBe(201)
    const dial = dynamometerWithSettings().settings[2]
    const completed = await owner.post('/v1/dynamometers', { ...document, name: 'Room 2', settings: [...document.settings, dial] }) // prettier-ignore
    expect(completed.status, completed.text).toBe(201)
  })

  it('speaks in anatomical terms that the rules know, and of nothing that a maker named', async () => {
    const { document } = (await service.api(clinic.tokens.assistant).get('/v1/dynamometers/starter')).body
    const hip = document.settings.find((one: LooseDocument) => one.key === 'hipAngle')
    expect(DEFAULT_COMPARABILITY_RULES.map(({ id }) => id)).toContain(hip.factor)
    expect(document.settings.filter((one: LooseDocument) => one.kind === 'scaleMark')).toEqual([])
    expect(dynamometerDocument.parse(document).settings.map(({ key }) => key)).toEqual(
      expect.arrayContaining(['hipAngle', 'seatDepth', 'axisLandmark']),
    )
  })

  it('401 and 403 as everywhere', async () => {
    expect((await service.api(null).get('/v1/dynamometers/starter')).status).toBe(401)
    expect((await service.api(clinic.tokens.auditor).get('/v1/dynamometers/starter')).status).toBe(403)
  })
})

describe('a description', () => {
  it.each([
    ['a start value outside the range', (d: LooseDocument) => (d.settings[0].startValue = { value: 200, unit: 'deg' }), '#/settings/0/startValue/value'], // prettier-ignore
    ['a start value of another kind', (d: LooseDocument) => (d.settings[0].startValue = { value: 8, unit: 'cm' }), '#/settings/0/startValue/unit'], // prettier-ignore
    ['a start mark that is none', (d: LooseDocument) => (d.settings[2].startMark = '9'), '#/settings/2/startMark'],
    ['a start choice that is none', (d: LooseDocument) => (d.settings[3].startChoice = 'huge'), '#/settings/3/startChoice'], // prettier-ignore
    ['a start value between two steps, which no setup could have', (d: LooseDocument) => (d.settings[1].startValue = { value: 42.2, unit: 'cm' }), '#/settings/1/startValue/value'], // prettier-ignore
    ['a mark twice, of which nobody could say where it stands', (d: LooseDocument) => (d.settings[2].marks = ['1', '2', '1']), '#/settings/2/marks/2'], // prettier-ignore
    ['a choice twice', (d: LooseDocument) => (d.settings[3].choices = ['none', 'none']), '#/settings/3/choices/1'],
    ['a tolerance in places of marks that have no order', (d: LooseDocument) => Object.assign(d.settings[2], { ordered: false, toleranceMarks: 1 }), '#/settings/2/toleranceMarks'], // prettier-ignore
    ['a dial that is negated onto no step of the other limb', (d: LooseDocument) => Object.assign(d.settings[0], { mirror: 'negated', range: { low: -10, high: 10 }, step: 3 }), '#/settings/0/step'], // prettier-ignore
    ['a length that stands for an angle of the rules', (d: LooseDocument) => (d.settings[1].factor = 'hip_angle'), '#/settings/1/factor'], // prettier-ignore
    ['a choice that stands for an angle of the rules', (d: LooseDocument) => (d.settings[3].factor = 'backrest_angle'), '#/settings/3/factor'], // prettier-ignore
    ['a part named like a setting', (d: LooseDocument) => (d.optionalParts = [{ key: 'wedge', label: 'Wedge' }]), '#/optionalParts/0/key'], // prettier-ignore
  ])('with %s is refused', async (_what, change, pointer) => {
    const document = dynamometerWithSettings() as LooseDocument
    change(document)
    const answer = await service.api(clinic.tokens.owner).post('/v1/dynamometers', document)
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer }])
  })
})

describe('a description of each kind of setting under each mirror rule', () => {
  const common = { key: 'dial', label: 'A dial' }
  const kinds: Record<string, object> = {
    quantity: { unit: 'deg', range: { low: -10, high: 10 }, step: 2 },
    scaleMark: { scales: { left: 'rail-left', right: 'rail-right' }, marks: ['1', '2'] },
    choice: { choices: ['a', 'b'] },
    boolean: {},
  }
  const fitting: Record<string, readonly string[]> = {
    same: ['quantity', 'scaleMark', 'choice', 'boolean'],
    negated: ['quantity'],
    same_mark_on_other_scale: ['scaleMark'],
    own_value: ['quantity', 'scaleMark', 'choice', 'boolean'],
  }
  it.each(Object.keys(fitting).flatMap((mirror) => Object.keys(kinds).map((kind) => [mirror, kind] as const)))(
    '%s of a %s is taken where it says something, and refused where it does not',
    async (mirror, kind) => {
      const settings = [{ ...common, kind, mirror, ...kinds[kind] }]
      const answer = await service.api(clinic.tokens.owner).post('/v1/dynamometers', { name: `${mirror} ${kind}`, settings }) // prettier-ignore
      if (fitting[mirror]!.includes(kind)) expect(answer.body.settings).toEqual(settings)
      else expect(answer.body.errors).toMatchObject([{ pointer: '#/settings/0/mirror' }])
    },
  )
})

describe('optional parts and planned values', () => {
  const withPart = () =>
    makeWorld(service, {
      dynamometer: (body) => (body.optionalParts = [{ key: 'footRest', label: 'Foot rest', effectOfDifference: 'not_comparable' }]), // prettier-ignore
    })

  it('a part used at one visit and not at the next does what the clinic says of it; not recorded is unknown', async () => {
    const world = await withPart()
    const visit = (day: string, use: string) => world.pushVisit(day, { change: (d) => d.setups.forEach((setup: LooseDocument) => (setup.optionalParts = { footRest: use })) }) // prettier-ignore
    await visit('2026-06-02', 'used')
    const verdictOf = (body: LooseDocument) => body.comparability.find((entry: LooseDocument) => entry.with === 'previous') // prettier-ignore
    expect(verdictOf(await visit('2026-06-12', 'used')).reasons.map((one: LooseDocument) => one.factor)).toEqual(['processing']) // prettier-ignore
    expect(verdictOf(await visit('2026-06-22', 'not_used')).reasons[0]).toMatchObject({ factor: 'foot_rest', effect: 'not_comparable', before: 'used', now: 'not_used' }) // prettier-ignore
    expect(verdictOf(await visit('2026-07-02', 'not_recorded')).reasons[0]).toMatchObject({ factor: 'foot_rest', effect: 'not_assessable', now: null }) // prettier-ignore
  })

  it('refuses a part that the description does not have, and a plan that leaves it', async () => {
    const world = await withPart()
    const faults = async (change: (setup: LooseDocument) => void) => {
      const document = world.visit('2026-06-02', { change: (d) => change(d.setups[0]) })
      const answer = await world.machine.post('/v1/sessions', document)
      return answer.body.errors?.map((one: LooseDocument) => `${one.code} ${one.pointer}`)
    }
    const planned = (settings: object) => (setup: LooseDocument) => (setup.planned = { settings })
    expect(await faults((setup) => (setup.optionalParts = { armRest: 'used' }))).toEqual(['not_in_description #/setups/0/optionalParts/armRest']) // prettier-ignore
    expect(await faults(planned({ wedge: 'huge' }))).toContain('deviation_without_reason #/setups/0/planned/settings/wedge') // prettier-ignore
    expect(await faults((setup) => {
      planned({ wedge: 'huge' })(setup)
      setup.deviations = [{ of: 'settings/wedge', reason: 'equipment' }]
    })).toEqual(['not_in_description #/setups/0/planned/settings/wedge']) // prettier-ignore
  })

  it('refuses a planned attachment, arm or part that the description does not have', async () => {
    const world = await withPart()
    const faults = async (planned: object, deviations: object[] = []) => {
      const document = world.visit('2026-06-02', { change: (d) => Object.assign(d.setups[0], { optionalParts: { footRest: 'not_recorded' }, planned, deviations }) }) // prettier-ignore
      const answer = await world.machine.post('/v1/sessions', document)
      return answer.body.errors?.map((one: LooseDocument) => `${one.code} ${one.pointer}`)
    }
    const reason = (of: string) => [{ of, reason: 'equipment' }]
    expect(await faults({ attachment: 'boot' }, reason('attachment'))).toEqual(['not_in_description #/setups/0/planned/attachment']) // prettier-ignore
    expect(await faults({ optionalParts: { armRest: 'used' } })).toEqual(['not_in_description #/setups/0/planned/optionalParts/armRest']) // prettier-ignore
    // 45 cm is within reach of the thigh pad, which was planned, and not of the shin pad, which was set
    const arm = { leverArmLength: { value: 45, unit: 'cm' } }
    const reasons = [...reason('attachment'), ...reason('leverArmLength')]
    expect(await faults({ attachment: 'thigh-pad', ...arm }, reasons)).toBeUndefined()
    expect(await faults(arm, reason('leverArmLength'))).toEqual(['not_in_description #/setups/0/planned/leverArmLength/value']) // prettier-ignore
  })

  it('wants a reason exactly where what was set differs from the plan, whatever the unit it is written in', async () => {
    const world = await makeWorld(service)
    const faults = async (change: (setup: LooseDocument) => void) => {
      const answer = await world.machine.post('/v1/sessions', world.visit('2026-06-02', { change: (d) => change(d.setups[0]) })) // prettier-ignore
      return answer.status === 201 ? [] : answer.body.errors.map((one: LooseDocument) => `${one.code} ${one.pointer}`)
    }
    const plan = { settings: { seatDepth: { value: 420, unit: 'mm' } }, leverArmLength: { value: 30, unit: 'cm' }, stops: { flexion: { value: 95, unit: 'deg' } }, stabilisation: { hands: 'holding_handles' } } // prettier-ignore
    expect(await faults((setup) => (setup.planned = plan))).toEqual([])
    expect(await faults((setup) => {
      setup.planned = { ...plan, stops: { flexion: { value: 100, unit: 'deg' } }, stabilisation: { hands: 'resting' } }
    })).toEqual(['deviation_without_reason #/setups/0/planned/stabilisation/hands', 'deviation_without_reason #/setups/0/planned/stops/flexion']) // prettier-ignore
    expect(await faults((setup) => {
      setup.planned = plan
      setup.deviations = [{ of: 'settings/seatDepth', reason: 'equipment' }]
    })).toEqual(['not_applicable #/setups/0/deviations/0/of']) // prettier-ignore
    expect(await faults((setup) => {
      setup.planned = { ...plan, leverArmLength: { value: 32, unit: 'cm' } }
      setup.deviations = [{ of: 'leverArmLength', reason: 'body_changed' }]
    })).toEqual([]) // prettier-ignore
    // Planned and not recorded as set is unknown, no deviation
    expect(await faults((setup) => {
      setup.planned = plan
      delete setup.settings.seatDepth
    })).toEqual([]) // prettier-ignore
  })
})
