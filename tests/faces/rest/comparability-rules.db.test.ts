import { beforeEach, describe, expect, it } from 'vitest'
import { DEFAULT_COMPARABILITY_RULES } from '../../../src/compute/index.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, type World } from '../../application/sessions/documents.ts'

const service = await makeTestService(await testDatabase())
const URL_ = '/v1/comparability-rules'
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
})

const arm = (moreThan: number, effect: string, reason?: string) => ({
  overrides: [
    {
      ruleId: 'lever_arm_length',
      limits: [{ moreThan, effect, measures: 'all' }],
      ...(reason === undefined ? {} : { reason }),
    },
  ],
})
const ruleOf = (body: LooseDocument, id: string) => body.rules.find((rule: LooseDocument) => rule.id === id)

/** Two visits, the arm of the second 8 mm longer: tolerated by default. */
async function twoVisits(): Promise<LooseDocument> {
  await world.pushVisit('2026-06-02')
  return world.pushVisit('2026-07-02', {
    change: (document) => {
      for (const setup of document.setups) setup.attachment.leverArmLength = { value: 308, unit: 'mm' }
    },
  })
}
const previousOf = (body: LooseDocument): LooseDocument =>
  body.comparability.find((entry: LooseDocument) => entry.with === 'previous' && entry.side === 'right')

describe('the comparability rules', () => {
  it('are the default table until a clinic writes its own limits', async () => {
    const answer = await world.machine.get(URL_)
    expect(answer.headers['etag']).toBe('"0"')
    expect(answer.body).toMatchObject({ version: 0, recordedAt: null, overrides: [] })
    expect(answer.body.rules.map((rule: LooseDocument) => rule.id)).toEqual(DEFAULT_COMPARABILITY_RULES.map(({ id }) => id)) // prettier-ignore
    expect(ruleOf(answer.body, 'lever_arm_length')).toMatchObject({ overridden: 'no', limits: [{ moreThan: 10 }, { moreThan: 20 }] }) // prettier-ignore
  })

  it('a stricter limit holds at once, in every answer: session, pair of results, trend; and for this clinic alone', async () => {
    const pushed = await twoVisits()
    expect(previousOf(pushed).verdicts.peakTorque).toBe('comparable_with_caution')
    const answer = await world.owner.put(URL_, arm(5, 'not_comparable'), '"0"')
    expect(answer.status, answer.text).toBe(200)
    expect(ruleOf(answer.body, 'lever_arm_length')).toMatchObject({ overridden: 'yes', source: "the clinic's own stricter limit" }) // prettier-ignore

    const read = await world.clinician.get(`/v1/sessions/${pushed.session.id}/comparability`)
    expect(previousOf(read.body).verdicts.peakTorque).toBe('not_comparable')
    expect(previousOf(read.body).reasons[0]).toMatchObject({ factor: 'lever_arm_length', tolerance: { value: 5, unit: 'mm' }, source: "the clinic's own stricter limit" }) // prettier-ignore
    const { resultId, againstResultId } = previousOf(read.body)
    const pair = await world.clinician.get(`/v1/comparability?a=${againstResultId}&b=${resultId}`)
    expect(pair.body.measures[0].verdict).toBe('not_comparable')
    const trend = await world.trend('right')
    expect(trend.splits[0]).toMatchObject({ verdict: 'not_comparable', reasons: [{ factor: 'lever_arm_length' }, {}] })
    const other = await makeWorld(service)
    expect((await other.clinician.get(URL_)).body.version).toBe(0)
  })

  it('hold in symmetry too', async () => {
    const document = world.visit('2026-06-02', { change: (d) => void (d.setups[1].attachment.leverArmLength = { value: 308, unit: 'mm' }) }) // prettier-ignore
    await world.push(document)
    expect((await world.symmetry()).points[0].setupsMatch).not.toBe('not_comparable')
    await world.owner.put(URL_, arm(5, 'not_comparable'), '"0"')
    expect((await world.symmetry()).points[0].setupsMatch).toBe('not_comparable')
  })

  it('are versioned: what the service knew before an edit is judged by the rules of then', async () => {
    await twoVisits()
    const before = new Date().toISOString()
    await new Promise((resolve) => setTimeout(resolve, 20))
    await world.owner.put(URL_, arm(5, 'not_comparable'), '"0"')
    const known = encodeURIComponent(before)
    expect((await world.clinician.get(`${URL_}?asKnownAt=${known}`)).body.version).toBe(0)
    expect((await world.trend('right', { asKnownAt: before })).splits).toEqual([])
    expect((await world.trend('right')).splits).toHaveLength(1)
  })

  it('looser than the default needs a reason, which stands in the verdict; and an edit replaces the one before', async () => {
    const loose = await world.owner.put(URL_, arm(40, 'caution'), '"0"')
    expect(loose.status).toBe(400)
    expect(loose.body.errors).toMatchObject([{ pointer: '#/overrides/0/reason', code: 'looser_without_reason' }])
    const reasoned = await world.owner.put(URL_, arm(40, 'caution', 'Our own trial of 2025: no effect to 40 mm'), '"0"')
    expect(ruleOf(reasoned.body, 'lever_arm_length').source).toBe("the clinic's own limit: Our own trial of 2025: no effect to 40 mm") // prettier-ignore
    const none = await world.owner.put(URL_, { overrides: [] }, '"1"')
    expect(none.body).toMatchObject({ version: 2, overrides: [] })
    expect(ruleOf(none.body, 'lever_arm_length').overridden).toBe('no')
  })
})

describe('an edit is refused', () => {
  it('400 for a rule that does not exist, one named twice, or an effect that is none', async () => {
    const pointers = async (body: unknown) => (await world.owner.put(URL_, body, '"0"')).body.errors.map((one: LooseDocument) => `${one.code} ${one.pointer}`) // prettier-ignore
    const [one] = arm(5, 'caution').overrides
    expect(await pointers({ overrides: [{ ...one, ruleId: 'moon_phase' }] })).toEqual(['unknown_rule #/overrides/0/ruleId']) // prettier-ignore
    expect(await pointers({ overrides: [one, one] })).toContain('not_unique #/overrides/1/ruleId')
    expect(await pointers(arm(5, 'forbidden'))).toEqual(['not_in_list #/overrides/0/limits/0/effect'])
  })

  it('401, 403, 412 and 428', async () => {
    const body = arm(5, 'not_comparable')
    expect((await service.api(null).put(URL_, body, '"0"')).status).toBe(401)
    expect((await service.api(world.clinic.tokens.assistant).put(URL_, body, '"0"')).status).toBe(403)
    expect((await world.owner.put(URL_, body, '"1"')).status).toBe(412)
    expect((await world.owner.put(URL_, body, null)).status).toBe(428)
  })
})
