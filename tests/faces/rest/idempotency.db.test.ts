import { setTimeout as delay } from 'node:timers/promises'
import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import {
  calibrationBody,
  dynamometerBody,
  episodeBody,
  createSubject,
  idOf,
  subjectBody,
} from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
})

async function sql<Row>(text: string, values: readonly unknown[] = []): Promise<Row[]> {
  return withClient(service.database.adminUrl, async (client) => (await client.query(text, [...values])).rows as Row[])
}

const subjects = async () => (await api.get('/v1/subjects')).body.items as { id: string }[]

describe('an Idempotency-Key', () => {
  it('answers the same request with the first answer, byte for byte', async () => {
    const first = await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })
    const again = await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })
    expect(again.status).toBe(201)
    expect(again.text).toBe(first.text)
    for (const name of ['location', 'etag', 'content-type']) expect(again.headers[name]).toBe(first.headers[name])
    expect(first.headers['idempotency-replayed']).toBeUndefined()
    expect(again.headers['idempotency-replayed']).toBe('true')
    expect(await subjects()).toHaveLength(1)
  })

  it('answers with the first answer even after the record was edited', async () => {
    const first = await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })
    await api.put(`/v1/subjects/${idOf(first)}`, { ...subjectBody(), sport: 'judo' }, '"1"')
    expect((await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })).text).toBe(first.text)
  })

  it('with other content is refused with 422, and nothing is stored', async () => {
    await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })
    const other = await api.post('/v1/subjects', subjectBody('RB-2'), { key: 'k-1' })
    expect(other.status).toBe(422)
    expect(other.body.code).toBe('key_reused')
    expect(await subjects()).toHaveLength(1)
  })

  it('has one effect when it is sent twice at once: one creates, the other is in flight or replayed', async () => {
    for (let round = 0; round < 5; round++) {
      const own = service.api((await freshClinic(service)).tokens.clinician)
      const answers = await Promise.all([1, 2, 3].map(() => own.post('/v1/subjects', subjectBody(), { key: 'k-1' })))
      const kinds = answers.map((a) => `${a.status} ${a.body.code ?? a.headers['idempotency-replayed'] ?? 'first'}`)
      expect(kinds.filter((kind) => kind === '201 first')).toHaveLength(1)
      for (const kind of kinds) expect(['201 first', '201 true', '409 key_in_flight']).toContain(kind)
      expect((await own.get('/v1/subjects')).body.items).toHaveLength(1)
    }
  })

  it('that is in flight is refused with 409 and Retry-After', async () => {
    const name = JSON.stringify([clinic.clinicId, clinic.principals.clinician, 'POST /v1/subjects', 'k-1'])
    const answer = await withClient(service.database.adminUrl, async (client) => {
      await client.query('begin')
      await client.query('select pg_advisory_xact_lock(hashtextextended($1, 0))', [name])
      const refused = await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })
      await client.query('rollback')
      return refused
    })
    expect(answer.status).toBe(409)
    expect(answer.body).toMatchObject({ code: 'key_in_flight', retry: 'after_delay' })
    expect(answer.headers['retry-after']).toBe('1')
    expect((await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })).status).toBe(201)
  })

  it("that is in flight in another clinic is free in one's own", async () => {
    const other = await freshClinic(service)
    const them = service.api(other.tokens.clinician)
    await withClient(service.database.adminUrl, async (client) => {
      // Their request waits for a number that somebody else is just about to take, and holds its key meanwhile.
      const someone = uuidv7()
      await client.query('begin')
      await client.query('insert into subject (clinic_id, id, version, created_at) values ($1, $2, 1, now())', [other.clinicId, someone]) // prettier-ignore
      await client.query(`insert into subject_identifier (clinic_id, system, value, subject_id) select $1, $2, $3, $4`, [other.clinicId, subjectBody().identifiers[0]?.system, 'RB-1', someone]) // prettier-ignore
      const waiting = them.post('/v1/subjects', subjectBody('RB-1'), { key: 'k-1' })
      const held = `select 1 from pg_locks where locktype = 'advisory' and granted and database = (select oid from pg_database where datname = current_database())`
      while ((await sql(held)).length === 0) await delay(20)
      expect((await api.post('/v1/subjects', subjectBody('RB-1'), { key: 'k-1' })).status).toBe(201)
      await client.query('rollback')
      expect((await waiting).status).toBe(201)
    })
  })

  it.each([
    ['a faulty document', { sex: 'w' }, 400],
    ['an identifier in use', {}, 409],
  ])('is not used up by %s', async (_what, change, status) => {
    await createSubject(api, 'RB-1')
    const refused = await api.post('/v1/subjects', { ...subjectBody('RB-1'), ...change }, { key: 'k-1' })
    expect(refused.status).toBe(status)
    expect((await api.post('/v1/subjects', subjectBody('RB-2'), { key: 'k-1' })).status).toBe(201)
  })

  it('belongs to one principal, one route and one parent', async () => {
    const subjectId = idOf(await api.post('/v1/subjects', subjectBody(), { key: 'k-1' }))
    expect((await api.post('/v1/episodes', episodeBody(subjectId), { key: 'k-1' })).status).toBe(201)
    const owner = service.api(clinic.tokens.owner)
    expect((await owner.post('/v1/subjects', subjectBody('RB-2'), { key: 'k-1' })).status).toBe(201)
    for (const name of ['a', 'b']) {
      const machine = idOf(await api.post('/v1/dynamometers', dynamometerBody(name)))
      const check = await api.post(`/v1/dynamometers/${machine}/calibration-checks`, calibrationBody(), { key: 'k-1' })
      expect(check.status).toBe(201)
      expect(check.headers['idempotency-replayed']).toBeUndefined()
    }
  })

  it.each([
    ['is missing', null, {}],
    ['is empty', null, { 'idempotency-key': '' }],
    ['has a space in it', null, { 'idempotency-key': 'a b' }],
    ['has 201 characters', null, { 'idempotency-key': 'x'.repeat(201) }],
  ])('that %s is refused with 400', async (_what, key, headers) => {
    const answer = await api.post('/v1/subjects', subjectBody(), { key, headers })
    expect(answer.status).toBe(400)
    expect(answer.body.code).toBe('idempotency_key_required')
    expect(await subjects()).toHaveLength(0)
  })

  it('is kept for 72 hours; after that its answer is gone and it may be used again', async () => {
    await api.post('/v1/subjects', subjectBody('RB-1'), { key: 'k-1' })
    const [kept] = await sql<{ hours: number }>(
      'select extract(epoch from expires_at - created_at)::float8 / 3600 as hours from idempotency where clinic_id = $1',
      [clinic.clinicId],
    )
    expect(kept?.hours).toBe(72)
    await sql(`update idempotency set expires_at = now() - interval '1 minute' where clinic_id = $1`, [clinic.clinicId])
    const later = await api.post('/v1/subjects', subjectBody('RB-2'), { key: 'k-1' })
    expect(later.status).toBe(201)
    expect(later.headers['idempotency-replayed']).toBeUndefined()
  })

  it('sweeps answers past their time, so that they do not stay for ever', async () => {
    for (let i = 0; i < 3; i++) await api.post('/v1/subjects', subjectBody(`RB-${i}`))
    await sql(`update idempotency set expires_at = now() - interval '1 minute' where clinic_id = $1`, [clinic.clinicId])
    await createSubject(api, 'RB-9')
    expect(await sql('select 1 from idempotency where clinic_id = $1', [clinic.clinicId])).toHaveLength(1)
  })
})

describe('the audit log of a create', () => {
  it('has one event for the effect and one for each replay, with the subject disclosed', async () => {
    const id = idOf(await api.post('/v1/subjects', subjectBody(), { key: 'k-1' }))
    await api.post('/v1/subjects', subjectBody(), { key: 'k-1' })
    const events = await sql<Record<string, unknown>>(
      `select action, outcome, subject_ids, details, actor_role from audit_event
       where clinic_id = $1 and action = 'subjects.create' order by ord`,
      [clinic.clinicId],
    )
    const event = { action: 'subjects.create', outcome: 'done', subject_ids: [id], actor_role: 'clinician' }
    expect(events).toEqual([
      { ...event, details: {} },
      { ...event, details: { replayed: true } },
    ])
  })

  it('has one event for a refusal, with its code and without its words', async () => {
    await api.post('/v1/subjects', { ...subjectBody(), name: 7 })
    const events = await sql<Record<string, unknown>>(
      `select outcome, details from audit_event where clinic_id = $1 and action = 'subjects.create'`,
      [clinic.clinicId],
    )
    expect(events).toEqual([{ outcome: 'refused', details: { code: 'invalid_document' } }])
  })

  it('comes with the effect or not at all: where it cannot be written, the answer is 503 and nothing is stored', async () => {
    await sql('revoke insert on audit_disclosure from limb_ledger_app')
    try {
      const key = uuidv7()
      const refused = await api.post('/v1/subjects', subjectBody(), { key })
      expect(refused.status).toBe(503)
      expect(refused.body.code).toBe('audit_unavailable')
      expect(refused.headers['retry-after']).toBe('5')
      const read = await api.get('/v1/subjects')
      expect(read.status).toBe(503)
      expect(await sql('select 1 from subject where clinic_id = $1', [clinic.clinicId])).toEqual([])
    } finally {
      await sql('grant insert on audit_disclosure to limb_ledger_app')
    }
    expect((await api.post('/v1/subjects', subjectBody())).status).toBe(201)
  })
})
