import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { exampleSession } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { codesOf, makeWorld, recorded, rowCounts, seriesQuery, sql, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
})

const count = async (table: string): Promise<number> =>
  (await sql<{ n: number }>(service, `select count(*)::int as n from ${table} where clinic_id = $1`, [world.clinic.clinicId]))[0]?.n ?? NaN // prettier-ignore

describe('a pushed visit', () => {
  it('is answered with 201, where it is, and its version', async () => {
    const answer = await world.push(world.visit('2026-11-10'))
    const { id } = answer.body.session
    expect(answer.headers['location']).toBe(`/v1/sessions/${id}`)
    expect(answer.headers['etag']).toBe('"1"')
    const read = await world.clinician.get(`/v1/sessions/${id}`)
    expect(read.headers['etag']).toBe('"1"')
    expect(read.body.session).toEqual(answer.body.session)
    expect(read.body.results).toEqual(answer.body.results)
  })

  it('with everything recorded raises no flag at all', async () => {
    const first = await world.pushVisit('2026-11-03')
    const second = await world.pushVisit('2026-11-10')
    expect(codesOf(first.flags)).toEqual([])
    expect(codesOf(second.flags)).toEqual([])
  })

  it('with recordings is analysed, and what was sent can be read back word for word', async () => {
    const document = recorded(world.visit('2026-11-10'))
    const { body } = await world.push(document)
    expect(body.results).toHaveLength(4)
    for (const result of body.results) {
      expect(result.origin).toBe('computed')
      expect(result.measures.peakTorque.best.value).toBeGreaterThan(50)
      expect(result.repetitions.counted).toBe(5)
    }
    const read = await world.clinician.get(`/v1/sessions/${body.session.id}`)
    expect(read.body.document.setups).toEqual(document.setups)
    expect(read.body.document.screening).toEqual(document.screening)
  })

  it('of a foreign document of the same shape, the whole example, is taken too', async () => {
    const document = exampleSession()
    document.subject = { id: world.subjectId }
    document.episode = { id: world.episodeId }
    document.dynamometer = { id: world.dynamometerId }
    delete document.operator
    for (const setup of document.setups) delete setup.settings.axisHeight
    const { body } = await world.push(document)
    expect(body.results).toHaveLength(8)
    expect(body.session.externalId).toEqual(document.externalId)
  })
})

describe('duplicate upload', () => {
  it('with the same key is answered byte for byte as the first time, and has one effect', async () => {
    const document = world.visit('2026-11-10')
    const first = await world.machine.post('/v1/sessions', document, { key: 'k-1' })
    const counted = await rowCounts(service)
    const again = await world.machine.post('/v1/sessions', document, { key: 'k-1' })
    expect(again.status).toBe(201)
    expect(again.text).toBe(first.text)
    for (const name of ['location', 'etag']) expect(again.headers[name]).toBe(first.headers[name])
    expect(first.headers['idempotency-replayed']).toBeUndefined()
    expect(again.headers['idempotency-replayed']).toBe('true')
    expect(await rowCounts(service)).toEqual(counted)
  })

  it('with another key and the same external id is answered with the session as it stands, and stores no second one', async () => {
    const document = world.visit('2026-11-10')
    const first = await world.push(document)
    // Another order of keys is the same content (RFC 8785).
    const shuffled = Object.fromEntries(Object.entries(document as object).reverse())
    const again = await world.machine.post('/v1/sessions', shuffled)
    expect(again.status).toBe(200)
    expect(again.headers['etag']).toBe('"1"')
    expect(again.body).toEqual(first.body)
    expect(await count('session')).toBe(1)
    expect(await count('set_result')).toBe(4)
  })

  it('under a known external id with other content is a 409 that lists what differs, and no value', async () => {
    const document = world.visit('2026-11-10')
    const { body } = await world.push(document)
    const other = structuredClone(document)
    other.bodyMass.value = 70.1
    other.sets[1].reported.values[0].quantity.value = 151
    other.notes = 'Said later.'
    const answer = await world.machine.post('/v1/sessions', other)
    expect(answer.status).toBe(409)
    expect(answer.body).toMatchObject({ code: 'external_id_conflict', id: body.session.id, retry: 'after_correction' })
    expect(answer.body.differs.sort()).toEqual([
      '#/bodyMass/value',
      '#/notes',
      '#/sets/1/reported/values/0/quantity/value',
    ])
    expect(answer.text).not.toMatch(/70\.1|Said later/)
  })

  it('after an amendment is held against the amended words', async () => {
    const document = world.visit('2026-11-10')
    const { body } = await world.push(document)
    const amended = { ...document, bodyMass: { value: 70, unit: 'kg' } }
    const path = `/v1/sessions/${body.session.id}/amendments`
    const amendment = { reason: 'Scale misread.', session: amended }
    expect((await world.clinician.post(path, amendment, { headers: { 'if-match': '"1"' } })).status).toBe(200)
    const again = await world.machine.post('/v1/sessions', amended)
    expect([again.status, again.headers['etag']]).toEqual([200, '"2"'])
    expect((await world.machine.post('/v1/sessions', document)).body).toMatchObject({
      code: 'external_id_conflict',
      differs: ['#/bodyMass/value'],
    })
  })

  it('under the external id of a withdrawn session is a 409 that says so', async () => {
    const document = world.visit('2026-11-10')
    const { body } = await world.push(document)
    const headers = { 'if-match': '"1"' }
    await world.clinician.post(`/v1/sessions/${body.session.id}/entered-in-error`, { reason: 'Not ours.' }, { headers })
    const again = await world.machine.post('/v1/sessions', document)
    expect([again.status, again.body.code, again.body.id]).toEqual([409, 'withdrawn', body.session.id])
  })

  it('with a key that was used for other content is a 422, and nothing is stored', async () => {
    await world.machine.post('/v1/sessions', world.visit('2026-11-03'), { key: 'k-1' })
    const before = await rowCounts(service)
    const answer = await world.machine.post('/v1/sessions', world.visit('2026-11-10'), { key: 'k-1' })
    expect([answer.status, answer.body.code]).toEqual([422, 'key_reused'])
    expect(await rowCounts(service)).toEqual(before)
  })

  it('by twins in flight with one key has one effect: the others are replayed or told to wait', async () => {
    for (let round = 0; round < 4; round++) {
      const document = world.visit(`2026-11-0${round + 1}`)
      const answers = await Promise.all([1, 2, 3].map(() => world.machine.post('/v1/sessions', document, { key: `k-${round}` }))) // prettier-ignore
      const kinds = answers.map((a) => `${a.status} ${a.body.code ?? a.headers['idempotency-replayed'] ?? 'first'}`)
      expect(kinds.filter((kind) => kind === '201 first')).toHaveLength(1)
      for (const kind of kinds) expect(['201 first', '201 true', '409 key_in_flight']).toContain(kind)
      expect(await count('session')).toBe(round + 1)
      expect(await count('set_result')).toBe(4 * (round + 1))
    }
  })

  it('by twins in flight with one external id and two keys has one effect: the other gets what the first made', async () => {
    for (let round = 0; round < 4; round++) {
      const document = world.visit(`2026-11-0${round + 1}`)
      const answers = await Promise.all(['a', 'b', 'c'].map((key) => world.machine.post('/v1/sessions', document, { key: `${key}-${round}` }))) // prettier-ignore
      expect(answers.map((a) => a.status).sort((a, b) => a - b)).toEqual([200, 200, 201])
      expect(new Set(answers.map((a) => a.body.session.id)).size).toBe(1)
      expect(await count('session')).toBe(round + 1)
    }
  })

  it('by twins in flight with one external id and other content stores one of them and refuses the other', async () => {
    const document = world.visit('2026-11-10')
    const other = { ...document, bodyMass: { value: 70, unit: 'kg' } }
    const answers = await Promise.all([document, other].map((body) => world.machine.post('/v1/sessions', body)))
    expect(answers.map((a) => a.status).sort((a, b) => a - b)).toEqual([201, 409])
    expect(await count('session')).toBe(1)
    expect(await count('session_version')).toBe(1)
  })
})

describe('partial ingest shown as whole', () => {
  const faults: readonly (readonly [string, number, (document: LooseDocument) => void])[] = [
    ['whose last reference points at nothing', 422, (d) => (d.operator.identifier.value = 'nobody')],
    ['whose last setting is off its step', 400, (d) => (d.setups[1].settings.seatDepth.value = 42.3)],
    ['whose last value has a unit that is none', 400, (d) => (d.sets[1].reported.values[1].quantity.unit = 'Nm')],
    ['that starts in the future', 400, (d) => (d.startedAt = '2199-01-01T09:00:00Z')],
  ]
  it.each(faults)('cannot be: a visit %s leaves no row in any table', async (_what, status, change) => {
    const before = await rowCounts(service)
    const answer = await world.machine.post('/v1/sessions', world.visit('2026-11-10', { change }))
    expect(answer.status, answer.text).toBe(status)
    expect(answer.body.detail).toContain('Nothing was stored.')
    expect(await rowCounts(service)).toEqual(before)
  })

  it('cannot be: where the last statement fails, the audit event, all rows before it are gone again', async () => {
    const before = await rowCounts(service)
    const document = recorded(world.visit('2026-11-10'))
    await sql(service, 'revoke insert on audit_disclosure from limb_ledger_app')
    try {
      const answer = await world.machine.post('/v1/sessions', document, { key: 'k-1' })
      expect([answer.status, answer.body.code]).toEqual([503, 'audit_unavailable'])
    } finally {
      await sql(service, 'grant insert on audit_disclosure to limb_ledger_app')
    }
    expect(await rowCounts(service)).toEqual(before)
    expect((await world.machine.post('/v1/sessions', document, { key: 'k-1' })).status).toBe(201)
  })
})

describe('audit outage hides access', () => {
  it('cannot be: while the log cannot be written nothing of anyone is shown', async () => {
    const { body } = await world.push(world.visit('2026-11-10', { change: (d) => (d.notes = 'canary of the notes') }))
    const urls = [
      `/v1/subjects/${world.subjectId}`,
      `/v1/sessions/${body.session.id}`,
      `/v1/sessions/${body.session.id}/versions`,
      `/v1/sessions?subjectId=${world.subjectId}`,
      `/v1/results/${body.results[0].id}`,
      `/v1/subjects/${world.subjectId}/trend?${seriesQuery({ side: 'right' })}`,
      `/v1/subjects/${world.subjectId}/symmetry?${seriesQuery()}`,
      `/v1/episodes/${world.episodeId}/readiness?criteriaSet=kyritsis-2016`,
    ]
    for (const url of urls) expect((await world.clinician.get(url)).status).toBe(200)
    await sql(service, 'revoke insert on audit_disclosure from limb_ledger_app')
    try {
      for (const url of urls) {
        const answer = await world.clinician.get(url)
        expect([url, answer.status, answer.body.code]).toEqual([url, 503, 'audit_unavailable'])
        expect(answer.text).not.toMatch(/canary|Example, Avery/)
      }
    } finally {
      await sql(service, 'grant insert on audit_disclosure to limb_ledger_app')
    }
  })
})

describe('a start that lies ahead', () => {
  const HOUR = 3_600_000
  const ahead = (hours: number): string => new Date(Date.now() + hours * HOUR).toISOString()

  it('of more than 24 hours is refused with its place, beside every other fault', async () => {
    const document = world.visit(ahead(25))
    document.bodyMass.unit = 'KGM'
    document.functionalResults = [
      { key: 'run', test: 'agility_t_run_time', performedAt: ahead(26), trials: [{ value: 10.6, unit: 's' }] },
    ]
    const answer = await world.machine.post('/v1/sessions', document)
    expect(answer.status).toBe(400)
    expect(answer.body.code).toBe('invalid_document')
    const faults = answer.body.errors.map((e: LooseDocument) => `${e.code} ${e.pointer}`)
    expect(faults).toContain('in_the_future #/startedAt')
    expect(faults).toContain('in_the_future #/functionalResults/0/performedAt')
    expect(faults).toContain('unit_not_ucum #/bodyMass/unit')
  })

  it('is refused in a dry run and in an amendment as well', async () => {
    const { body } = await world.push(world.visit('2026-11-10'))
    const late = world.visit(ahead(25))
    const check = await world.machine.post('/v1/calculations/session-check', late)
    expect(check.body).toMatchObject({
      status: 400,
      code: 'value_out_of_range',
      errors: [{ code: 'in_the_future', pointer: '#/startedAt' }],
    })
    const amendment = { reason: 'Wrong day.', session: late }
    const path = `/v1/sessions/${body.session.id}/amendments`
    const amended = await world.clinician.post(path, amendment, { headers: { 'if-match': '"1"' } })
    expect(amended.body.errors).toMatchObject([{ code: 'in_the_future', pointer: '#/session/startedAt' }])
  })

  it('of less than that is a clock or an offset that is a little off, and is taken', async () => {
    await world.push(world.visit(ahead(23)))
  })
})
