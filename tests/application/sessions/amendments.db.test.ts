import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService, type Api } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, rowCounts, sql, worldIn, type World } from './documents.ts'

let now = new Date('2026-11-20T08:00:00Z')
/** Minutes between two acts, so that "as known at" has something to tell apart. */
const later = (): Date => (now = new Date(now.getTime() + 10 * 60_000))
const service = await makeTestService(await testDatabase(), { clock: () => now })

let world: World
beforeEach(async () => {
  later()
  world = await makeWorld(service)
  later()
})

const amend = (api: Api, id: string, session: LooseDocument, version: number, reason = 'The scale was misread.') =>
  api.post(`/v1/sessions/${id}/amendments`, { reason, session }, { headers: { 'if-match': `"${version}"` }, key: null })
const withdraw = (id: string, version: number, reason = 'Entered in error.') =>
  world.clinician.post(`/v1/sessions/${id}/entered-in-error`, { reason }, { headers: { 'if-match': `"${version}"` } })

const values = (trend: LooseDocument): number[] => trend.points.map((point: LooseDocument) => point.quantity.value)

describe('an amendment', () => {
  it('takes the place of the session; every version stays readable with who, when and why', async () => {
    const document = world.visit('2026-11-10')
    const pushedAt = now.toISOString()
    const { body } = await world.push(document)
    const { id } = body.session
    const amended = { ...document, bodyMass: { value: 70.2, unit: 'kg' } }
    const amendedAt = later().toISOString()
    const answer = await amend(world.clinician, id, amended, 1)
    expect(answer.status, answer.text).toBe(200)
    expect(answer.headers['etag']).toBe('"2"')
    expect(answer.body.session).toMatchObject({ id, version: 2, state: 'amended' })

    const { items } = (await world.clinician.get(`/v1/sessions/${id}/versions`)).body
    expect(items).toMatchObject([
      {
        version: 1,
        kind: 'pushed',
        reason: null,
        recordedBy: { id: world.clinic.principals.integration, name: 'Member, integration' },
        recordedAt: pushedAt,
        supersededAt: amendedAt,
        document: { bodyMass: { value: 68.4 } },
      },
      {
        version: 2,
        kind: 'amended',
        reason: 'The scale was misread.',
        recordedBy: { id: world.clinic.principals.clinician, name: 'Member, clinician' },
        recordedAt: amendedAt,
        supersededAt: null,
        document: { bodyMass: { value: 70.2 } },
      },
    ])
    // The results of the first version can still be told by their id, as superseded.
    const old = await world.clinician.get(`/v1/results/${body.results[0].id}`)
    expect(old.body).toMatchObject({ state: 'superseded', session: { id, version: 1 } })
  })

  it('names the version it amends: 428 without, 412 with another, and nothing changes', async () => {
    const document = world.visit('2026-11-10')
    const { id } = (await world.push(document)).body.session
    const before = await rowCounts(service)
    const body = { reason: 'x', session: document }
    const without = await world.clinician.post(`/v1/sessions/${id}/amendments`, body)
    expect([without.status, without.body.code]).toEqual([428, 'version_required'])
    const stale = await amend(world.clinician, id, document, 2)
    expect([stale.status, stale.body.code, stale.body.currentVersion]).toEqual([412, 'stale_version', 1])
    for (const ifMatch of ['1', 'W/"1"', '*', '"1", "2"']) {
      const odd = await world.clinician.post(`/v1/sessions/${id}/amendments`, body, {
        headers: { 'if-match': ifMatch },
      })
      expect(odd.status).toBe(412)
    }
    expect(await rowCounts(service)).toEqual(before)
  })

  it('is judged by version before its words are: a stale one with faults is a 412', async () => {
    const { id } = (await world.pushVisit('2026-11-10')).session
    expect((await amend(world.clinician, id, { nonsense: 1 }, 7)).status).toBe(412)
    expect((await amend(world.clinician, id, { nonsense: 1 }, 1)).status).toBe(400)
  })

  it('of two at once one wins; the other is told that it is stale', async () => {
    for (let round = 0; round < 3; round++) {
      const document = world.visit(`2026-11-0${round + 1}`)
      const { id } = (await world.push(document)).body.session
      const masses = [66, 67, 68]
      const answers = await Promise.all(masses.map((value) => amend(world.clinician, id, { ...document, bodyMass: { value, unit: 'kg' } }, 1))) // prettier-ignore
      expect(answers.map((a) => a.status).sort((a, b) => a - b)).toEqual([200, 412, 412])
      const winner = masses[answers.findIndex((a) => a.status === 200)]
      expect((await world.clinician.get(`/v1/sessions/${id}`)).body.document.bodyMass.value).toBe(winner)
      expect((await world.clinician.get(`/v1/sessions/${id}/versions`)).body.items).toHaveLength(2)
    }
  })

  it('keeps the external id', async () => {
    const document = world.visit('2026-11-10')
    const { id } = (await world.push(document)).body.session
    const other = { ...document, externalId: { ...document.externalId, value: 'V-other' } }
    expect((await amend(world.clinician, id, other, 1)).body.errors).toMatchObject([
      { pointer: '#/session/externalId', code: 'not_editable' },
    ])
  })

  it('of a withdrawn session is a 409', async () => {
    const document = world.visit('2026-11-10')
    const { id } = (await world.push(document)).body.session
    expect((await withdraw(id, 1)).status).toBe(200)
    const answer = await amend(world.clinician, id, document, 2)
    expect([answer.status, answer.body.code]).toEqual([409, 'withdrawn'])
    expect((await withdraw(id, 2)).body.code).toBe('withdrawn')
  })

  it('that points at nothing, or at a setting that is not there, is refused with places inside the amendment', async () => {
    const document = world.visit('2026-11-10')
    const { id } = (await world.push(document)).body.session
    const before = await rowCounts(service)
    const lost = { ...document, operator: { identifier: { system: 'https://clinic.example/staff', value: 'nobody' } } }
    expect((await amend(world.clinician, id, lost, 1)).body.errors).toMatchObject([{ pointer: '#/session/operator' }])
    const off = structuredClone(document)
    off.setups[0].settings.seatDepth.value = 42.3
    const answer = await amend(world.clinician, id, off, 1)
    expect(answer.body.errors).toMatchObject([{ pointer: '#/session/setups/0/settings/seatDepth/value' }])
    expect(await rowCounts(service)).toEqual(before)
  })

  it('judges its hazards anew: what the first words raised is gone, what the new ones raise is there', async () => {
    const document = world.visit('2026-11-10', { change: (d) => (d.screening.pain.during.value = 5) })
    const { id } = (await world.push(document)).body.session
    const calm = structuredClone(document)
    calm.screening.pain.during.value = 1
    calm.setups[0].seatDepthCheck.calfToSeatGap.value = 1
    const { body } = await amend(world.clinician, id, calm, 1)
    expect(body.flags.map((flag: LooseDocument) => flag.code)).toEqual(['seat_depth_gap'])
    expect((await world.clinician.get('/v1/flags')).body.items.map((flag: LooseDocument) => flag.code)).toEqual([
      'seat_depth_gap',
    ])
    expect(values(await world.trend('right'))).toEqual([150])
  })
})

describe('wrong subject: a session moved to the right one', () => {
  it('leaves no trace with the wrong one, in one audited step', async () => {
    const right = await worldIn(service, world.clinic, 'RB-2')
    await world.pushVisit('2026-11-03', { extension: { left: 170, right: 150 } })
    const document = world.visit('2026-11-10', {
      extension: { left: 99, right: 98 },
      change: (d) => {
        d.screening.pain.during.value = 5
        d.functionalResults = [
          { key: 'l', test: 'single_hop_distance', side: 'left', trials: [{ value: 150, unit: 'cm' }] },
          { key: 'r', test: 'single_hop_distance', side: 'right', trials: [{ value: 149, unit: 'cm' }] },
        ]
      },
    })
    const wrongly = (await world.push(document)).body
    const { id } = wrongly.session
    const readiness = (w: World) =>
      w.clinician.get(`/v1/episodes/${w.episodeId}/readiness?criteriaSet=kyritsis-2016&on=2026-11-20`)
    const hop = (body: LooseDocument) => body.criteria.find((c: LooseDocument) => c.key === 'single-hop')
    expect(hop((await readiness(world)).body).verdict).not.toBe('not_assessable')

    const moved = { ...document, subject: { id: right.subjectId }, episode: { id: right.episodeId } }
    moved.dynamometer = { id: right.dynamometerId }
    const beforeMove = now
    later()
    const answer = await amend(world.clinician, id, moved, 1, 'Two people of one name.')
    expect(answer.status, answer.text).toBe(200)
    expect(answer.body.session).toMatchObject({ subjectId: right.subjectId, episodeId: right.episodeId, version: 2 })

    for (const side of ['left', 'right'] as const) {
      const trend = await world.trend(side)
      expect([...trend.points, ...trend.excluded].map((p: LooseDocument) => p.sessionId)).not.toContain(id)
      expect(JSON.stringify(trend)).not.toContain(id)
    }
    expect(JSON.stringify(await world.symmetry())).not.toContain(id)
    const series = await world.clinician.get(`/v1/subjects/${world.subjectId}/series`)
    expect(series.body.items[0].sides.map((s: LooseDocument) => s.tests)).toEqual([1, 1])
    const wrongReadiness = await readiness(world)
    expect(hop(wrongReadiness.body)).toMatchObject({ verdict: 'not_assessable', reason: 'missing' })
    for (const result of wrongly.results) expect(wrongReadiness.text).not.toContain(result.id)
    const list = await world.clinician.get(`/v1/sessions?subjectId=${world.subjectId}`)
    expect(list.body.items).toHaveLength(1)
    const flags = (await world.clinician.get('/v1/flags')).body.items
    expect(flags.length).toBeGreaterThan(0)
    expect(flags.every((flag: LooseDocument) => flag.subjectId === right.subjectId)).toBe(true)
    // The next visit is not judged by the other's history either.
    const next = await world.pushVisit('2026-11-17')
    expect(next.comparability.map((c: LooseDocument) => c.sessionId)).not.toContain(id)

    expect((await right.trend('right')).excluded.map((p: LooseDocument) => p.sessionId)).toEqual([id])
    expect(hop((await readiness(right)).body).verdict).not.toBe('not_assessable')

    // What the service believed before the move can still be asked.
    const then = await world.trend('right', { asKnownAt: beforeMove.toISOString() })
    expect(then.excluded.map((p: LooseDocument) => p.sessionId)).toEqual([id])

    const [event] = await sql(
      service,
      `select outcome, subject_ids from audit_event where clinic_id = $1 and action = 'sessions.amend'`,
      [world.clinic.clinicId],
    )
    expect(event?.outcome).toBe('done')
    expect([...(event?.subject_ids as string[])].sort()).toEqual([world.subjectId, right.subjectId].sort())
  })
})

describe('wrong side: a session moved to the right one', () => {
  it('leaves no trace of the wrong side', async () => {
    await world.pushVisit('2026-11-03')
    const document = world.visit('2026-11-10', { sides: ['left'], extension: { left: 151, right: 0 } })
    const { id } = (await world.push(document)).body.session
    expect(values(await world.trend('left'))).toEqual([170, 151])
    const moved = world.visit('2026-11-10', { sides: ['right'], extension: { left: 0, right: 151 } })
    moved.externalId = document.externalId
    later()
    const answer = await amend(world.clinician, id, moved, 1, 'It was the right knee.')
    expect(answer.body.results.map((r: LooseDocument) => r.side)).toEqual(['right', 'right'])
    expect(values(await world.trend('left'))).toEqual([170])
    expect(values(await world.trend('right'))).toEqual([150, 151])
    const [, pair] = (await world.symmetry()).points
    expect(pair.left).toMatchObject({ value: null, reason: 'other_limb_not_tested_in_session' })
    expect(pair.limbSymmetryIndex.value).toBeNull()
  })
})

describe('a session entered in error', () => {
  it('is gone from everything that follows from it and stays readable with its reason', async () => {
    await world.pushVisit('2026-11-03')
    const { body } = await world.push(
      world.visit('2026-11-10', {
        extension: { left: 100, right: 100 },
        change: (d) => {
          d.screening.pain.during.value = 5
          d.functionalResults = [{ key: 'run', test: 'agility_t_run_time', trials: [{ value: 10.6, unit: 's' }] }]
        },
      }),
    )
    const { id } = body.session
    const before = now
    later()
    const answer = await withdraw(id, 1, 'Of the training dummy.')
    expect(answer.body.session).toMatchObject({ id, version: 2, state: 'entered_in_error' })
    for (const side of ['left', 'right'] as const) expect(JSON.stringify(await world.trend(side))).not.toContain(id)
    expect(JSON.stringify(await world.symmetry())).not.toContain(id)
    const ready = await world.clinician.get(
      `/v1/episodes/${world.episodeId}/readiness?criteriaSet=kyritsis-2016&on=2026-11-20`,
    )
    const run = ready.body.criteria.find((c: LooseDocument) => c.key === 'running-t-test')
    expect(run).toMatchObject({ verdict: 'not_assessable', reason: 'missing', evidence: [] })
    expect((await world.clinician.get('/v1/flags')).body.items).toEqual([])
    expect((await world.pushVisit('2026-11-17')).comparability.map((c: LooseDocument) => c.sessionId)).not.toContain(id)

    expect((await world.clinician.get(`/v1/sessions/${id}`)).body.session.state).toBe('entered_in_error')
    const { items } = (await world.clinician.get(`/v1/sessions/${id}/versions`)).body
    expect(items.at(-1)).toMatchObject({ kind: 'entered_in_error', reason: 'Of the training dummy.' })
    const then = await world.trend('right', { asKnownAt: before.toISOString() })
    expect(then.excluded.map((p: LooseDocument) => p.sessionId)).toEqual([id])
  })

  it('needs the version, a role that may, and a reason', async () => {
    const { id } = (await world.pushVisit('2026-11-10')).session
    const url = `/v1/sessions/${id}/entered-in-error`
    expect((await world.clinician.post(url, { reason: 'x' })).status).toBe(428)
    expect((await withdraw(id, 3)).status).toBe(412)
    expect((await withdraw(id, 1, '')).status).toBe(400)
    expect((await world.machine.post(url, { reason: 'x' }, { headers: { 'if-match': '"1"' } })).status).toBe(403)
  })
})

describe('the two time axes', () => {
  it('what was known before an amendment, and what of it lies before a day, are asked apart', async () => {
    const first = world.visit('2026-11-03', { extension: { left: 170, right: 140 } })
    const { id } = (await world.push(first)).body.session
    await world.pushVisit('2026-11-10', { extension: { left: 170, right: 150 } })
    const before = now
    later()
    const corrected = structuredClone(first)
    corrected.sets[1].reported.values[0].quantity.value = 148
    expect((await amend(world.clinician, id, corrected, 1, 'Typed wrongly.')).status).toBe(200)
    const after = now

    const asked = async (more: Record<string, string>) => values(await world.trend('right', more))
    expect(await asked({})).toEqual([148, 150])
    expect(await asked({ asKnownAt: before.toISOString() })).toEqual([140, 150])
    expect(await asked({ asKnownAt: after.toISOString() })).toEqual([148, 150])
    expect(await asked({ asKnownAt: before.toISOString(), to: '2026-11-03' })).toEqual([140])
    expect(await asked({ from: '2026-11-04' })).toEqual([150])
    expect(await asked({ asKnownAt: '2026-11-20T07:00:00Z' }).catch((e: Error) => e.message)).toMatch(/404/)

    const symmetry = await world.symmetry({ asKnownAt: before.toISOString() })
    expect(symmetry.points[0].right.value).toBe(140)
    const readiness = async (query: string) =>
      (await world.clinician.get(`/v1/episodes/${world.episodeId}/readiness?criteriaSet=kyritsis-2016&${query}`)).body
    const deficit = (body: LooseDocument) => body.criteria.find((c: LooseDocument) => c.key === 'quadriceps-deficit-60')
    const onTheFourth = `on=2026-11-04`
    expect(deficit(await readiness(onTheFourth)).observed.value).toBeCloseTo(100 * (1 - 148 / 170), 9)
    const asThen = `${onTheFourth}&asKnownAt=${before.toISOString()}`
    expect(deficit(await readiness(asThen)).observed.value).toBeCloseTo(100 * (1 - 140 / 170), 9)
    expect(deficit(await readiness('on=2026-11-20')).observed.value).toBeCloseTo(100 * (1 - 150 / 170), 9)
  })

  it('a flag resolved later still holds as known before', async () => {
    const { body } = await world.push(world.visit('2026-11-10', { change: (d) => (d.screening.pain.during.value = 5) }))
    const before = now
    later()
    for (const flag of body.flags) {
      const url = `/v1/flags/${flag.id}/resolution`
      const answer = await world.clinician.post(url, { status: 'dismissed', reason: 'Of the other knee.' })
      expect(answer.status).toBe(201)
    }
    expect(values(await world.trend('right'))).toEqual([150])
    expect(values(await world.trend('right', { asKnownAt: before.toISOString() }))).toEqual([])
  })
})
