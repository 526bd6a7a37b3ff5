import { createPublicKey } from 'node:crypto'
import { readFile, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { beforeAll, describe, expect, it, vi } from 'vitest'
import { run } from '../../../src/cli/limb-ledger.ts'
import type { PublicJwks } from '../../../src/ledger/tree-head.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { freshClinic, makeTestService, type Answer, type Api } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { subjectBody, createSubject } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, type World } from '../../application/sessions/documents.ts'
import { continues, includes } from '../../ledger/second-proof-verifier.ts'
import { openHead } from '../../ledger/second-verifier.ts'

const database = await testDatabase()
const ledger = await makeTestLedger(database)
const service = await makeTestService(database, { ledger })

interface Report {
  verdict: string
  entries: number
  firstBad: { epoch: number; sequence: number; notAfter: number; reason: string } | null
  eventsWithoutLeaf: string[]
  eventsShownOtherwise: string[]
}

/** Under load another test of the cluster may hold a transaction open for a while; a seal waits for it. */
async function seal(api: Api): Promise<{ epoch: number; size: number; jws: string; rootHash: string; added: number }> {
  for (;;) {
    const answer = await api.post('/v1/audit/seal', {})
    expect([200, 503]).toContain(answer.status)
    if (answer.status === 200 && answer.body.complete === true) return answer.body
  }
}

async function verify(api: Api): Promise<Report> {
  const answer = await api.post<string>('/v1/audit/verification', {})
  expect(answer.status).toBe(200)
  expect(answer.headers['content-type']).toContain('application/x-ndjson')
  const lines = answer.body.trimEnd().split('\n')
  return (JSON.parse(lines.at(-1)!) as { report: Report }).report
}

const superuser = (sql: string, values: unknown[] = []): Promise<Record<string, unknown>[]> =>
  withClient(database.adminUrl, async (client) => (await client.query(sql, values)).rows as Record<string, unknown>[])

let world: World
let owner: Api
let auditor: Api
let sessionId: string

beforeAll(async () => {
  world = await makeWorld(service)
  owner = world.owner
  auditor = service.api(world.clinic.tokens.auditor)
  sessionId = ((await world.pushVisit('2026-05-12')) as { session: { id: string } }).session.id
}, 60_000)

describe('the audit endpoints', () => {
  it('are for owner and auditor, and refuse every other role with an event', async () => {
    for (const role of ['clinician', 'assistant', 'integration'] as const) {
      const api = service.api(world.clinic.tokens[role])
      for (const url of ['events', 'export', 'tree-head', 'inclusion-proof?sequence=1', 'consistency-proof?first=1'])
        expect((await api.get(`/v1/audit/${url}`)).status, url).toBe(403)
      expect((await api.post('/v1/audit/seal', {})).status).toBe(403)
      expect((await api.post('/v1/audit/verification', {})).status).toBe(403)
      expect((await api.get(`/v1/subjects/${world.subjectId}/disclosures`)).status).toBe(403)
    }
    const refused = await auditor.get('/v1/audit/events?outcome=refused&action=audit.export')
    expect(refused.body.items).toHaveLength(3)
    expect(refused.body.items[0].details).toEqual({ code: 'forbidden' })
  })

  it('filter by subject, actor, action, outcome, request and time, and page without gap or repetition', async () => {
    const other = await createSubject(world.machine, 'RB-9')
    const read = await world.clinician.get(`/v1/subjects/${other}`, { headers: { purpose: 'rehabilitation-review' } })
    const requestId = read.headers['x-request-id'] ?? ''
    const events = async (query: string) => (await auditor.get(`/v1/audit/events?${query}`)).body.items
    const [event] = await events(`requestId=${requestId}`)
    expect(event).toMatchObject({
      action: 'subjects.read',
      outcome: 'done',
      purpose: 'rehabilitation-review',
      subjectIds: [other],
      actor: { principalId: world.clinic.principals.clinician, role: 'clinician', displayName: 'Member, clinician' },
    })
    expect((await events(`subjectId=${other}`)).map((e: { action: string }) => e.action)).toEqual(
      // Reading the events of a subject is an event of that subject too, and comes after what it shows.
      ['subjects.read', 'subjects.create'],
    )
    const actions = new Set((await events(`actorId=${world.clinic.principals.integration}`)).map((e: { action: string }) => e.action)) // prettier-ignore
    expect(actions).toContain('sessions.push')
    expect(actions).not.toContain('subjects.read')
    expect(await events(`from=${encodeURIComponent(event.at)}&to=${encodeURIComponent(event.at)}`)).toEqual([])
    const since = await events(`from=${encodeURIComponent(event.at)}&action=subjects.read`)
    expect(since.map((e: { id: string }) => e.id)).toEqual([event.id])

    const all = await superuser('select id::text from audit_event where clinic_id = $1 order by at desc, id desc', [world.clinic.clinicId]) // prettier-ignore
    const paged: string[] = []
    for (let cursor: string | null = null; ;) {
      const page: Answer<{ items: { id: string }[]; nextCursor: string | null }> = await auditor.get(
        `/v1/audit/events?limit=7${cursor === null ? '' : `&cursor=${cursor}`}`,
      )
      paged.push(...page.body.items.map((e) => e.id))
      cursor = page.body.nextCursor
      if (cursor === null) break
    }
    // The pages themselves were written while we paged, in front of the first one.
    expect(paged).toEqual(all.map((row) => row['id']))
  })

  it('name in one event every subject that a list showed: twenty names, twenty subjects', async () => {
    const clinic = await freshClinic(service)
    const api = service.api(clinic.tokens.owner)
    const shown: string[] = []
    for (let n = 0; n < 21; n++) shown.push(await createSubject(api, `L-${n}`))
    const list = await api.get('/v1/subjects?limit=20')
    const listed = list.body.items.map(({ id }: { id: string }) => id).sort()
    expect(listed).toHaveLength(20)
    const events = (await api.get(`/v1/audit/events?requestId=${list.headers['x-request-id']}`)).body.items
    expect(events).toHaveLength(1)
    expect(events[0].subjectIds).toEqual(listed)
    for (const id of shown) {
      const { items } = (await api.get(`/v1/subjects/${id}/disclosures`)).body
      const named = items.filter((item: { eventId: string }) => item.eventId === events[0].id)
      expect([id, named.length]).toEqual([id, listed.includes(id) ? 1 : 0])
    }
  })

  it('show a text about a person in clear, which stands encrypted in the entry', async () => {
    const reason = 'Typed for the wrong twin.'
    const doomed = ((await world.pushVisit('2026-05-19')) as { session: { id: string } }).session.id
    const withdrawn = await owner.post(`/v1/sessions/${doomed}/entered-in-error`, { reason }, { key: null, headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect(withdrawn.status, withdrawn.text).toBe(200)
    const [event] = (await auditor.get('/v1/audit/events?action=sessions.withdraw')).body.items
    expect(event.details.reason).toEqual({ subjectId: world.subjectId, text: reason })
    const { size } = await seal(owner)
    expect(size).toBeGreaterThan(0)
    const exported = (await owner.get<string>('/v1/audit/export')).body
    expect(exported).toContain(event.id)
    expect(exported).not.toContain('wrong twin')
    // Whoever saw the text has seen something of the person.
    const [reading] = (await auditor.get('/v1/audit/events?action=audit.read&limit=1')).body.items
    expect(reading.subjectIds).toEqual([world.subjectId])
  })

  it('give a signed head, and proofs that hold against it by a verifier that shares no line with the service', async () => {
    await seal(owner)
    const jwks = (await service.api(null).get<Parameters<typeof openHead>[1]>('/.well-known/limb-ledger/jwks.json'))
      .body
    const rootOf = (jws: string): string => openHead(jws, jwks)!.rootHash
    const early = (await auditor.get('/v1/audit/tree-head')).body
    expect(openHead(early.jws, jwks)).toMatchObject({ clinicId: world.clinic.clinicId, size: early.size, rootHash: early.rootHash }) // prettier-ignore
    await owner.get(`/v1/sessions/${sessionId}`)
    const late = await seal(owner)

    for (let sequence = 1; sequence <= late.size; sequence++) {
      const proof = (await auditor.get(`/v1/audit/inclusion-proof?sequence=${sequence}&size=${late.size}`)).body
      expect(JSON.parse(proof.entry)).toMatchObject({ sequence, clinicId: world.clinic.clinicId })
      expect(includes(proof, rootOf(proof.head))).toBe(true)
      expect(includes({ ...proof, entry: proof.entry.replace('"outcome":"', '"outcome":"x') }, rootOf(proof.head))).toBe(false) // prettier-ignore
      expect(includes({ ...proof, sequence: (sequence % late.size) + 1 }, rootOf(proof.head))).toBe(false)
      expect(includes(proof, early.rootHash)).toBe(false)
    }
    const growth = (await auditor.get(`/v1/audit/consistency-proof?first=${early.size}&second=${late.size}`)).body
    expect(growth.firstHead).toBe(early.jws)
    const [firstRoot, secondRoot] = [rootOf(growth.firstHead), rootOf(growth.secondHead)]
    expect(continues(growth, firstRoot, secondRoot)).toBe(true)
    expect(continues(growth, secondRoot, secondRoot)).toBe(false)
    expect(continues(growth, firstRoot, firstRoot)).toBe(false)
    expect(continues({ ...growth, firstSize: early.size - 1 }, firstRoot, secondRoot)).toBe(false)

    for (const query of [`sequence=${late.size + 1}`, 'sequence=0', 'sequence=1&size=999999', 'sequence=x'])
      expect((await auditor.get(`/v1/audit/inclusion-proof?${query}`)).status, query).toBe(400)
    expect((await auditor.get('/v1/audit/inclusion-proof?sequence=1&epoch=7')).status).toBe(404)
    expect((await auditor.get('/v1/audit/consistency-proof?first=0')).status).toBe(400)
  })

  it('export a log that the command verifies offline, and that it calls broken after one changed letter', async () => {
    await seal(owner)
    const jwks = (await service.api(null).get('/.well-known/limb-ledger/jwks.json')).text
    const witness = await readFile(ledger.witnessFile(world.clinic.clinicId), 'utf8')
    const exported = (await owner.get<string>('/v1/audit/export')).body
    const [keysFile, witnessFile, exportFile] = ['jwks.json', 'witness.ndjson', 'log.ndjson'].map((name) => join(ledger.directory, name)) as [string, string, string] // prettier-ignore
    await writeFile(keysFile, jwks)
    await writeFile(witnessFile, witness)
    const check = async (text: string): Promise<{ code: number; said: string }> => {
      await writeFile(exportFile, text)
      const said: string[] = []
      const log = vi.spyOn(console, 'log').mockImplementation((line: string) => void said.push(line))
      const code = await run(['verify-audit', exportFile, '--keys', keysFile, '--witness', witnessFile])
      log.mockRestore()
      return { code, said: said.join('\n') }
    }
    const sound = await check(exported)
    expect(sound.code).toBe(0)
    expect(sound.said).toContain('The log is intact.')
    const bad = await check(exported.replace('subjects.create', 'subjects.creatE'))
    expect(bad.code).toBe(1)
    expect(bad.said).toContain('entry_does_not_match_its_leaf_hash')
    const cut = exported.trimEnd().split('\n')
    expect((await check(`${cut.slice(0, -3).join('\n')}\n`)).code).toBe(1)
  })

  it('export CSV in which no cell runs as a formula', async () => {
    // What a client may be called is the one text in an entry that others choose.
    const clients = ['=HYPERLINK("https://x.example")', '+1+cmd|x', '-2+3', '@SUM(A1)']
    for (const client_id of clients) {
      const token = await service.mint({ sub: world.clinic.subs.owner, clinic: world.clinic.clinicId, client_id })
      await service.api(token).get('/v1/dynamometers')
    }
    await seal(owner)
    const answer = await owner.get<string>('/v1/audit/export?format=csv')
    expect(answer.headers['content-type']).toContain('text/csv')
    const rows: Record<string, string>[] = parse(answer.body, { columns: true })
    const entries = (await owner.get<string>('/v1/audit/export')).body
      .split('\n')
      .filter((l) => l.startsWith('{"entry"'))
    expect(rows.length).toBeGreaterThan(10)
    expect(rows.length).toBe(entries.length)
    expect(rows.map((row) => row['client'])).toEqual(expect.arrayContaining(clients.map((client) => `'${client}`)))
    for (const row of rows) for (const cell of Object.values(row)) expect(cell).not.toMatch(/^[=+\-@\t\r]/)
    expect(rows[0]).toMatchObject({ epoch: '1', sequence: '1', action: 'clinics.create' })
  })

  it('serve nothing but public keys to the public', async () => {
    const { keys } = (await service.api(null).get<PublicJwks>('/.well-known/limb-ledger/jwks.json')).body
    expect(Object.keys(keys[0]!).sort()).toEqual(['alg', 'crv', 'kid', 'kty', 'use', 'x'])
    const own = createPublicKey(await ledger.signingKey()).export({ format: 'jwk' })
    expect(keys.map(({ x }) => x)).toEqual([own.x])
  })
})

describe('the accounting of disclosures', () => {
  it('lists exactly who has read or changed the data of a subject, itself included, and nobody who was refused', async () => {
    const clinic = await freshClinic(service)
    const api = (role: 'owner' | 'clinician' | 'assistant' | 'auditor' | 'integration') => service.api(clinic.tokens[role]) // prettier-ignore
    const mine = await createSubject(api('integration'), 'A')
    const other = await createSubject(api('integration'), 'B')
    await api('clinician').get(`/v1/subjects/${mine}`)
    await api('assistant').get('/v1/subjects')
    await api('assistant').get(`/v1/subjects/${other}`)
    await api('auditor').get(`/v1/subjects/${mine}`)
    await api('clinician').put(`/v1/subjects/${mine}`, subjectBody('A'), '"99"')
    await api('owner').put(`/v1/subjects/${mine}`, { ...subjectBody('A'), sport: 'judo' }, '"1"')
    const listed = async (id: string) =>
      (await api('auditor').get(`/v1/subjects/${id}/disclosures`)).body.items.map(
        (item: { action: string; actor: { role: string } }) => `${item.actor.role} ${item.action}`,
      )
    expect(await listed(mine)).toEqual([
      'owner subjects.edit',
      'assistant subjects.list',
      'clinician subjects.read',
      'integration subjects.create',
    ])
    expect(await listed(mine)).toEqual([
      'auditor disclosures.read',
      'owner subjects.edit',
      'assistant subjects.list',
      'clinician subjects.read',
      'integration subjects.create',
    ])
    expect(await listed(other)).toEqual(['assistant subjects.read', 'assistant subjects.list', 'integration subjects.create']) // prettier-ignore
  })

  it('answers for another clinic’s subject as for one that never was', async () => {
    const stranger = service.api((await freshClinic(service)).tokens.auditor)
    // Asking the log about it does not make it known either.
    expect((await stranger.get(`/v1/audit/events?subjectId=${world.subjectId}`)).body.items).toEqual([])
    const [foreign, absent] = await Promise.all(
      [world.subjectId, '01a211e5-4feb-70a8-a310-4dbf8a987363'].map((id) => stranger.get(`/v1/subjects/${id}/disclosures`)), // prettier-ignore
    )
    expect(foreign!.status).toBe(404)
    expect({ ...foreign!.body, requestId: null }).toEqual({ ...absent!.body, requestId: null })
  })
})

describe('the verification of the whole log', () => {
  async function tampered(change: (clinicId: string, firstSize: number) => Promise<unknown>) {
    const clinic = await freshClinic(service)
    const api = service.api(clinic.tokens.owner)
    for (const n of [1, 2, 3]) await createSubject(api, `T-${n}`)
    const first = await seal(api)
    for (const n of [4, 5]) await createSubject(api, `T-${n}`)
    const { size } = await seal(api)
    expect(await verify(api)).toMatchObject({
      verdict: 'intact',
      entries: size,
      firstBad: null,
      eventsShownOtherwise: [],
    })
    await change(clinic.clinicId, first.size)
    return { report: await verify(api), firstSize: first.size }
  }

  it('names the event that a superuser edited', async () => {
    const { report } = await tampered(
      (clinicId) =>
      superuser(`update audit_event set actor_role = 'auditor' where clinic_id = $1 and id = (
        select event_id from audit_leaf where clinic_id = $1 and seq = 7)`, [clinicId]), // prettier-ignore
    )
    expect(report).toMatchObject({ verdict: 'broken', firstBad: { epoch: 1, sequence: 7, notAfter: 7, reason: 'event_differs_from_leaf' } }) // prettier-ignore
  })

  it('names the entry that a superuser rewrote together with its event and its hash', async () => {
    const { report } = await tampered(async (clinicId) => {
      await superuser(
        `update audit_event set action = 'subjects.edit' where clinic_id = $1 and id = (
           select event_id from audit_leaf where clinic_id = $1 and seq = 8)`,
        [clinicId],
      )
      await superuser(
        `with changed as (
           select seq, convert_to(replace(convert_from(canonical, 'UTF8'), 'subjects.create', 'subjects.edit'), 'UTF8') as text
           from audit_leaf where clinic_id = $1 and seq = 8)
         update audit_leaf l set canonical = c.text, leaf_hash = sha256('\\x00'::bytea || c.text)
         from changed c where l.clinic_id = $1 and l.seq = c.seq`,
        [clinicId],
      )
    })
    expect(report).toMatchObject({ verdict: 'broken', firstBad: { sequence: 8, reason: 'entry_differs_from_witness' } })
  })

  it('names the first entry that is missing when the tail was cut off, its heads with it', async () => {
    const { report, firstSize } = await tampered(async (clinicId, size) => {
      await superuser('delete from tree_head where clinic_id = $1 and size > $2', [clinicId, size])
      await superuser('delete from audit_leaf where clinic_id = $1 and seq > $2', [clinicId, size])
    })
    expect(report).toMatchObject({ verdict: 'broken', firstBad: { sequence: firstSize + 1, reason: 'entry_missing' } })
  })

  it('says which events were slipped in behind the seal', async () => {
    const { report } = await tampered((clinicId) =>
      superuser(
        `insert into audit_event (clinic_id, id, xid, ord, action, outcome, request_id)
         select clinic_id, gen_random_uuid(), xid, ord, 'subjects.read', 'done', 'slipped-in'
         from audit_event where clinic_id = $1 order by ord limit 1`,
        [clinicId],
      ),
    )
    expect(report.verdict).toBe('broken')
    expect(report.eventsWithoutLeaf).toHaveLength(1)
  })

  describe('names the events that lists show otherwise than the log has them', () => {
    const ofSequence = (seq: number) => `(select event_id from audit_leaf where clinic_id = $1 and seq = ${seq})`

    it('where a disclosure was hidden from the accounting', async () => {
      const { report } = await tampered((clinicId) =>
        superuser(`delete from audit_disclosure where clinic_id = $1 and event_id = ${ofSequence(8)}`, [clinicId]),
      )
      expect(report).toMatchObject({ verdict: 'broken', firstBad: null, eventsShownOtherwise: [expect.any(String)] })
    })

    it('where one was made up', async () => {
      const { report } = await tampered((clinicId) =>
        superuser(
          `insert into audit_disclosure (clinic_id, subject_id, event_id, at)
           select clinic_id, gen_random_uuid(), event_id, now() from audit_leaf where clinic_id = $1 and seq = 8`,
          [clinicId],
        ),
      )
      expect(report).toMatchObject({ verdict: 'broken', firstBad: null, eventsShownOtherwise: [expect.any(String)] })
    })

    it('where an event was slipped in with a place that no head covers', async () => {
      const id = '01a211e5-4feb-70a8-a310-4dbf8a987363'
      const { report } = await tampered(async (clinicId) => {
        await superuser(
          `insert into audit_event (clinic_id, id, xid, action, outcome, request_id)
           values ($1, $2, '5', 'consents.create', 'done', 'slipped-in')`,
          [clinicId, id],
        )
        await superuser(
          `insert into audit_leaf (clinic_id, epoch, seq, event_id, canonical, leaf_hash)
           select clinic_id, 7, 1, $2, canonical, leaf_hash from audit_leaf where clinic_id = $1 and seq = 1`,
          [clinicId, id],
        )
      })
      expect(report).toMatchObject({ verdict: 'broken', firstBad: null, eventsShownOtherwise: [id] })
    })
  })

  it('tells that it could not be made where there is no witness', async () => {
    const clinic = await freshClinic(service)
    const answer = await service.api(clinic.tokens.owner).post<string>('/v1/audit/verification', {})
    expect(JSON.parse(answer.body)).toEqual({ notVerified: { reason: 'no_witness' } })
  })

  it('is one at a time for a clinic', async () => {
    const api = service.api((await freshClinic(service)).tokens.owner)
    await seal(api)
    const answers = await Promise.all([1, 2, 3, 4].map(() => api.post('/v1/audit/verification', {})))
    const statuses = answers.map(({ status }) => status)
    expect(statuses).toContain(200)
    for (const status of statuses) expect([200, 503]).toContain(status)
    expect((await api.post('/v1/audit/verification', {})).status).toBe(200)
  })
})

describe('a process without a connection for the sealer', () => {
  it('says that it cannot seal or verify, and still shows and exports the log', async () => {
    const plain = await makeTestService(database)
    const api = plain.api(await plain.mint({ sub: world.clinic.subs.owner, clinic: world.clinic.clinicId }))
    for (const url of ['seal', 'verification']) {
      const answer = await api.post(`/v1/audit/${url}`, {})
      expect([answer.status, answer.body.code]).toEqual([503, 'sealing_unavailable'])
    }
    expect((await api.get('/v1/audit/events')).status).toBe(200)
    expect((await api.get<string>('/v1/audit/export')).body).toContain('limb-ledger-audit-export/1')
  })
})
