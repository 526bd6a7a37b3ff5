import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, worldIn, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
})

const url = (of: World) => `/v1/subjects/${of.subjectId}/reference-setups`
const pin = (session: LooseDocument, setup = 'right-knee', reason = 'First test after the swelling was gone') =>
  world.clinician.post(url(world), { session: { id: session.session.id }, setup, reason })

/** Right knee alone, its arm moved by so many millimetres. */
const withArm = (day: string, millimetres: number) =>
  world.pushVisit(day, {
    sides: ['right'],
    change: (document) => {
      document.setups[0].attachment.leverArmLength = { value: 300 + millimetres, unit: 'mm' }
    },
  })

const entryOf = (pushed: LooseDocument, kind: string): LooseDocument =>
  pushed.comparability.find((entry: LooseDocument) => entry.with === kind && entry.movement === 'extension')

describe('a reference setup', () => {
  it('is pinned from a session with a reason, and read back', async () => {
    const first = await world.pushVisit('2026-06-02')
    const answer = await pin(first)
    expect(answer.status, answer.text).toBe(201)
    expect(answer.body).toMatchObject({ joint: 'knee', side: 'right', version: 1, inForce: 'yes', session: { id: first.session.id, version: 1, state: 'as_pinned' }, reason: 'First test after the swelling was gone' }) // prettier-ignore
    expect(answer.body.setup.settings.seatDepth).toEqual({ value: 42, unit: 'cm' })
    expect((await world.machine.get(url(world))).body.items).toEqual([answer.body])
  })

  it('changes by another pin alone: later visits leave it, the one before stays readable with its reason', async () => {
    const first = await world.pushVisit('2026-06-02')
    await pin(first)
    const second = await world.pushVisit('2026-07-02')
    expect((await world.clinician.get(url(world))).body.items[0].session.id).toBe(first.session.id)
    const again = await pin(second, 'right-knee', 'The old seat was replaced')
    expect(again.body.version).toBe(2)
    expect((await world.clinician.get(url(world))).body.items).toEqual([again.body])
    const history = (await world.clinician.get(`${url(world)}?history=yes&side=right`)).body.items
    expect(history.map((row: LooseDocument) => [row.version, row.inForce, row.reason])).toEqual([
      [2, 'yes', 'The old seat was replaced'],
      [1, 'no', 'First test after the swelling was gone'],
    ])
    const then = history[0].pinnedAt as string
    const before = new Date(Date.parse(then) - 1).toISOString()
    const known = await world.clinician.get(`${url(world)}?asKnownAt=${encodeURIComponent(before)}`)
    expect(known.body.items.map((row: LooseDocument) => row.version)).toEqual([1])
  })

  it('stays as it was pinned when its session is amended or withdrawn, and says so', async () => {
    const first = await world.pushVisit('2026-06-02')
    await pin(first)
    const read = async () => (await world.clinician.get(url(world))).body.items[0]
    const document = world.visit('2026-06-02', { change: (d) => (d.setups[1].settings.seatDepth.value = 44) }) // prettier-ignore
    document.externalId = first.session.externalId
    const amended = await world.clinician.post(
      `/v1/sessions/${first.session.id}/amendments`,
      { reason: 'Seat depth misread', session: document },
      { headers: { 'if-match': '"1"' } },
    )
    expect(amended.status, amended.text).toBe(200)
    expect(await read()).toMatchObject({ session: { state: 'amended_since' }, setup: { settings: { seatDepth: { value: 42 } } } }) // prettier-ignore
    await world.clinician.post(`/v1/sessions/${first.session.id}/entered-in-error`, { reason: 'Another person' }, { headers: { 'if-match': '"2"' } }) // prettier-ignore
    expect((await read()).session.state).toBe('withdrawn_since')
  })
})

describe('against the reference', () => {
  it('nine tolerated steps of the lever arm do not add up: each is fine by the visit before, and the reference says no', async () => {
    await pin(await withArm('2026-06-01', 0))
    const steps: { previous: LooseDocument; reference: LooseDocument }[] = []
    for (let step = 1; step <= 9; step++) {
      const pushed = await withArm(`2026-06-${String(1 + step).padStart(2, '0')}`, 10 * step)
      steps.push({ previous: entryOf(pushed, 'previous')!, reference: entryOf(pushed, 'reference')! })
    }
    const blamed = steps.map(({ previous }) => previous.reasons.map(({ factor }: LooseDocument) => factor))
    // Reported values leave their processing unknown, which is all that is said against the visit before
    expect(blamed).toEqual(Array(9).fill(['processing']))
    // 10 mm is tolerated, 20 mm is caution, more is not comparable (the default rule of the lever arm)
    expect(steps.map(({ reference }) => reference.verdicts.peakTorque)).toEqual([
      'comparable',
      'comparable_with_caution',
      ...Array<string>(7).fill('not_comparable'),
    ])
    expect(steps[8]?.reference.reasons).toMatchObject([{ factor: 'lever_arm_length', before: { value: 300 }, now: { value: 390 } }]) // prettier-ignore
  })

  it('is told in the answer to the push and by GET alike, for its limb and machine only', async () => {
    const first = await world.pushVisit('2026-06-02')
    await pin(first)
    const pushed = await world.pushVisit('2026-07-02', {
      change: (document) => {
        document.setups[1].stabilisation.trunkStraps = 'none'
        document.screening.pain.during.value = 2
      },
    })
    const found = pushed.comparability.filter((entry: LooseDocument) => entry.with === 'reference')
    expect(found.map((entry: LooseDocument) => [entry.side, entry.movement])).toEqual([
      ['right', 'extension'],
      ['right', 'flexion'],
    ])
    expect(found[0]).toMatchObject({ sessionId: first.session.id, verdicts: { peakTorque: 'not_comparable' } })
    // The setup alone: pain and other facts of the visit are no part of it
    expect(found[0].reasons).toMatchObject([{ factor: 'trunk_straps', before: 'both', now: 'none' }])
    const read = await world.clinician.get(`/v1/sessions/${pushed.session.id}/comparability`)
    expect(read.body.comparability).toEqual(pushed.comparability)
    const pinned = await world.clinician.get(`/v1/sessions/${first.session.id}/comparability`)
    expect(entryOf(pinned.body, 'reference')).toBeUndefined()
  })

  it('counts a zero and an axis check as unknown once something moved afterwards, and says why', async () => {
    await pin(await world.pushVisit('2026-06-02'))
    const pushed = await world.pushVisit('2026-07-02', {
      change: (document) => {
        document.setups[1].anatomicalZero.afterLastAdjustment = 'no'
        document.setups[1].axisCheck.afterLastAdjustment = 'no'
        document.setups[1].limbWeighing.afterLastAdjustment = 'no'
      },
    })
    const findings = pushed.flags.filter((flag: LooseDocument) => flag.pointer === '#/setups/1').map((flag: LooseDocument) => flag.code) // prettier-ignore
    expect(findings.sort()).toEqual(['axis_checked_before_last_adjustment', 'weighed_before_last_adjustment', 'zero_before_last_adjustment']) // prettier-ignore
    expect(pushed.setupFindings[1]).toMatchObject({
      gravityMoment: { value: null, reason: 'weighed_before_last_adjustment' },
      axisOffset: { verdict: 'not_assessable', reason: 'axis_checked_before_last_adjustment' },
    })
    const reasons = entryOf(pushed, 'reference')?.reasons as LooseDocument[]
    expect(reasons.find(({ factor }) => factor === 'anatomical_zero')).toMatchObject({ now: 'void: something was moved afterwards' }) // prettier-ignore
    expect(reasons.map(({ factor }) => factor)).toContain('axis_check_missing_on_one_side')
  })
})

describe('a pin is refused', () => {
  it('400 without a reason, or with a field we do not know', async () => {
    const { session } = await world.pushVisit('2026-06-02')
    const answer = await world.clinician.post(url(world), {
      session: { id: session.id },
      setup: 'right-knee',
      why: 'x',
    })
    expect(answer.status).toBe(400)
    expect(answer.body.errors.map((fault: LooseDocument) => fault.pointer).sort()).toEqual(['#/reason', '#/why'])
  })

  it('422 for a session or a setup that is not there, or is another subject’s', async () => {
    const { session } = await world.pushVisit('2026-06-02')
    const ask = async (body: object) => (await world.clinician.post(url(world), { reason: 'r', ...body })).body.errors?.[0] // prettier-ignore
    expect(await ask({ session: { id: uuidv7() }, setup: 'right-knee' })).toMatchObject({ pointer: '#/session' })
    expect(await ask({ session: { id: session.id }, setup: 'hip' })).toMatchObject({ pointer: '#/setup', code: 'reference_not_found' }) // prettier-ignore
    const other = await worldIn(service, world.clinic, 'RB-2')
    const theirs = await other.pushVisit('2026-06-02')
    expect(await ask({ session: { id: theirs.session.id }, setup: 'right-knee' })).toMatchObject({ pointer: '#/session' }) // prettier-ignore
  })

  it('409 for a withdrawn session, 403 for a machine, 404 for another clinic’s subject', async () => {
    const { session } = await world.pushVisit('2026-06-02')
    const body = { session: { id: session.id }, setup: 'right-knee', reason: 'r' }
    expect((await world.machine.post(url(world), body)).status).toBe(403)
    const other = await makeWorld(service)
    expect((await other.clinician.post(url(world), body)).status).toBe(404)
    expect((await other.clinician.get(url(world))).status).toBe(404)
    await world.clinician.post(`/v1/sessions/${session.id}/entered-in-error`, { reason: 'x' }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect((await world.clinician.post(url(world), body)).status).toBe(409)
  })
})
