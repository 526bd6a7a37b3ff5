import { spawn } from 'node:child_process'
import { request as httpRequest } from 'node:http'
import Socket, { type WebSocket } from 'ws'
import { beforeAll, describe, expect, it } from 'vitest'
import { announce } from '../../../src/store/announcement-store.ts'
import { removeMember, withOwner } from '../../../src/store/admin-store.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { withClinic } from '../../../src/tenancy/with-clinic.ts'
import { makeWorld, type World } from '../../application/sessions/documents.ts'
import { freshTeam, ISSUER } from '../../harness/clinic.ts'
import { readme } from '../../harness/readme.ts'
import { clinicWorld, day, type ClinicWorld } from '../../harness/sharing-clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asker, dataOf } from './ask.ts'
import { follow, initialised, listeningService, rawSocket, until, type RawSocket } from './sockets.ts'

const database = await testDatabase()
const service = await listeningService(database, {
  graphql: { introspection: false, persisted: null, explorer: null, sockets: { initMs: 400, recheckMs: 200, pingMs: 2_000, socketsOfPrincipal: 4 } }, // prettier-ignore
})
/** The same database behind another process. */
const second = await listeningService(database)

const SESSIONS = 'subscription ($subjectId: ID) { sessionStored(subjectId: $subjectId) { id version state subjectId results { measures { peakTorque { best { value unit } } } } } }' // prettier-ignore
const BRIEF = 'subscription { sessionStored { id version } }'
const REPORTS = 'subscription { reportSigned { id version decision } }'

let here: World
let there: World
let reports: ClinicWorld
beforeAll(async () => {
  here = await makeWorld(service)
  there = await makeWorld(service)
  reports = await clinicWorld(service, 'S-1')
})

const sql = <T extends object>(text: string, values: readonly unknown[] = []) =>
  withClient(database.adminUrl, async (client) => (await client.query<T>(text, [...values])).rows)
const securityCodes = async () =>
  (await sql<{ code: string }>(`select code from security_event where route = '/graphql' order by at, slot`)).map(({ code }) => code) // prettier-ignore
const subscribeTo = (query: string, id = 's') => ({ id, type: 'subscribe', payload: { query } })

describe('a subscription', () => {
  it('tells of a session that a records system pushed over REST, with its results and an audit event of the read', async () => {
    const { clinician } = here.clinic.tokens
    const told = await follow(service, clinician, SESSIONS, { purpose: 'rehabilitation-review' })
    const pushed = await here.pushVisit('2026-03-02', { extension: { left: 214, right: 176 } })
    await until(() => told.events.length === 1)
    const { sessionStored } = told.events[0]?.data
    expect(sessionStored).toMatchObject({ id: pushed.session.id, version: 1, state: 'final', subjectId: here.subjectId }) // prettier-ignore
    expect(JSON.stringify(sessionStored.results)).toContain('"value":214,"unit":"N.m"')
    const [event, ...more] = await sql(
      `select action, outcome, purpose, subject_ids::text[] as subjects, resource_ids as resources, request_id as request
       from audit_event where actor_principal_id = $1 and action = 'sessions.read'`,
      [here.clinic.principals.clinician],
    )
    expect(more).toEqual([])
    expect(event).toMatchObject({ action: 'sessions.read', outcome: 'done', purpose: 'rehabilitation-review', subjects: [here.subjectId] }) // prettier-ignore
    expect(JSON.stringify(event)).toContain(`session/${pushed.session.id}`)
  })

  it('tells of an amendment, and of nothing when the same content comes again or is only looked at', async () => {
    const told = await follow(service, here.clinic.tokens.assistant, BRIEF)
    const document = here.visit('2026-03-09')
    expect((await here.machine.post('/v1/calculations/session-check', document)).status).toBe(200)
    const { session } = (await here.push(document)).body
    expect((await here.machine.post('/v1/sessions', document)).status).toBe(200)
    const amended = await here.clinician.post(
      `/v1/sessions/${session.id}/amendments`,
      { reason: 'Body mass was mistyped.', session: { ...document, bodyMass: { value: 80, unit: 'kg' } } },
      { headers: { 'if-match': '"1"' }, key: null },
    )
    expect(amended.status, amended.text).toBe(200)
    await until(() => told.events.length === 2)
    await here.pushVisit('2026-03-10')
    await until(() => told.events.length === 3)
    // The first may be told after the second was stored: it is told as it stands then.
    expect(told.events.map(({ data }) => data.sessionStored.id).slice(0, 2)).toEqual([session.id, session.id])
    expect(told.events[1]?.data.sessionStored.version).toBe(2)
  })

  it('tells of a session that was pushed over GraphQL', async () => {
    const told = await follow(service, here.clinic.tokens.clinician, BRIEF)
    const query = 'mutation ($document: SessionInput!, $key: String!) { pushSession(document: $document, idempotencyKey: $key) { session { id version } } }' // prettier-ignore
    const variables = { document: here.visit('2026-03-12'), key: 'over-graphql-1' }
    const { pushSession } = await dataOf(asker(service, here.clinic.tokens.integration)(query, variables))
    await until(() => told.events.length === 1)
    expect(told.events).toEqual([{ data: { sessionStored: pushSession.session } }])
  })

  it('tells all two hundred that one member may have open, while others are answered as ever', async () => {
    const token = await second.mint({ sub: here.clinic.subs.assistant, clinic: here.clinic.clinicId })
    const raws = await Promise.all(Array.from({ length: 10 }, () => initialised(second.url, token)))
    const before = second.follows()
    for (const raw of raws) for (let n = 0; n < 20; n++) raw.say(subscribeTo(SESSIONS, `s${n}`))
    await until(() => second.follows() === before + 200)
    const { session } = await here.pushVisit('2026-03-13')
    const api = second.api(await second.mint({ sub: here.clinic.subs.owner, clinic: here.clinic.clinicId }))
    for (let n = 0; n < 20; n++) expect((await api.get('/v1/subjects?limit=1')).status).toBe(200)
    await until(() => raws.every(({ heard }) => heard.length === 21), 60_000)
    const told = raws.flatMap(({ heard }) => heard.slice(1))
    expect(new Set(told.map(({ type, payload }) => `${type} ${payload.data?.sessionStored.id}`))).toEqual(new Set([`next ${session.id}`])) // prettier-ignore
    // Nor is it a fault that somebody leaves while there is something to tell them.
    await here.pushVisit('2026-03-14')
    for (const { socket } of raws) socket.close()
    await Promise.all(raws.map(({ closed }) => closed))
    expect((await api.get('/v1/subjects?limit=1')).status).toBe(200)
    expect(second.logged().includes('request failed')).toBe(false)
  }, 90_000)

  it('tells of a report when it is signed, and of its next version', async () => {
    await reports.subject.push(reports.visit(day(-3)))
    const told = await follow(service, reports.clinic.tokens.assistant, REPORTS)
    const first = await reports.sign()
    await until(() => told.events.length === 1)
    expect(told.events[0]).toEqual({ data: { reportSigned: { id: first.id, version: 1, decision: 'continue_rehabilitation' } } }) // prettier-ignore
    const next = await reports.clinician.post(`/v1/reports/${first.id}/versions`, { criteriaSet: { key: 'kyritsis-2016' }, on: day(0), decision: 'continue_rehabilitation', note: 'Read again.', reason: 'A typing error.' }) // prettier-ignore
    expect(next.status, next.text).toBe(201)
    await until(() => told.events.length === 2)
    expect(told.events[1]?.data.reportSigned).toMatchObject({ id: first.id, version: 2 })
  })

  it('tells each clinic of its own and never of another', async () => {
    const ours = await follow(service, here.clinic.tokens.owner, BRIEF)
    const theirs = await follow(service, there.clinic.tokens.owner, BRIEF)
    const pushed = { ours: [] as string[], theirs: [] as string[] }
    for (const on of ['2026-04-01', '2026-04-02', '2026-04-03']) {
      pushed.theirs.push((await there.pushVisit(on)).session.id as string)
      pushed.ours.push((await here.pushVisit(on)).session.id as string)
    }
    const ids = (told: typeof ours) => told.events.map(({ data }) => data.sessionStored.id as string)
    await until(() => ours.events.length >= 3 && theirs.events.length >= 3)
    expect([ids(ours), ids(theirs)]).toEqual([pushed.ours, pushed.theirs])
  })

  it('tells of one subject where one is named; another clinic’s is as little there as none', async () => {
    const other = await makeWorldBeside()
    const of = (subjectId: string) => follow(service, here.clinic.tokens.clinician, SESSIONS, { variables: { subjectId } }) // prettier-ignore
    const told = await of(here.subjectId)
    const inCapitals = await of(here.subjectId.toUpperCase())
    await other.pushVisit('2026-04-05')
    const mine = await here.pushVisit('2026-04-06')
    await until(() => told.events.length > 0 && inCapitals.events.length > 0)
    for (const { events, client } of [told, inCapitals]) {
      expect(events.map(({ data }) => data.sessionStored.id as string)).toEqual([mine.session.id])
      await client.dispose()
    }
    const answers = await Promise.all(
      [there.subjectId, '01890000-0000-7000-8000-000000000000', 'no-id'].map(async (subjectId) => {
        const { ended, client } = await follow(service, here.clinic.tokens.owner, SESSIONS, {
          variables: { subjectId },
        })
        await until(() => ended() !== undefined)
        await client.dispose()
        return JSON.stringify(ended()).replace(/"requestId":"[^"]+"/, '')
      }),
    )
    expect(answers[0]).toContain('"code":"NOT_FOUND"')
    expect(new Set(answers).size).toBe(1)
  })

  it('is heard in every process', async () => {
    const token = await second.mint({ sub: here.clinic.subs.clinician, clinic: here.clinic.clinicId })
    const far = await follow(second, token, BRIEF)
    const near = await follow(service, here.clinic.tokens.clinician, BRIEF)
    const { session } = await here.pushVisit('2026-04-07')
    await until(() => far.events.length === 1 && near.events.length === 1)
    expect([far.events[0]?.data.sessionStored.id, near.events[0]?.data.sessionStored.id]).toEqual([session.id, session.id]) // prettier-ignore
  })

  it('tells nothing of what was rolled back', async () => {
    const told = await follow(service, here.clinic.tokens.assistant, BRIEF)
    const stored = (await here.pushVisit('2026-04-08')).session
    const again = { kind: 'session_stored', id: stored.id as string, subjectId: here.subjectId } as const
    const actor = { clinicId: here.clinic.clinicId }
    await expect(
      withClinic(service.db, actor, async (tx) => {
        await announce(tx, again)
        throw new Error('changed our mind')
      }),
    ).rejects.toThrow('changed our mind')
    await withClinic(service.db, actor, (tx) => announce(tx, again))
    await until(() => told.events.length === 2)
    const last = await here.pushVisit('2026-04-09')
    await until(() => told.events.length >= 3)
    expect(told.events.map(({ data }) => data.sessionStored.id as string)).toEqual([stored.id, stored.id, last.session.id]) // prettier-ignore
  })

  it('ends with an error when the connection that listens breaks, and can be made anew', async () => {
    const told = await follow(service, here.clinic.tokens.owner, BRIEF)
    await sql(`select pg_terminate_backend(pid) from pg_stat_activity where application_name = 'limb-ledger-announcements' and datname = current_database()`) // prettier-ignore
    await until(() => told.ended() !== undefined)
    expect(told.ended()).toMatchObject([{ extensions: { code: 'UNAVAILABLE' }, message: 'What was stored in this moment may not have been heard of: read what you missed and subscribe again.' }]) // prettier-ignore
    const anew = await follow(service, here.clinic.tokens.owner, BRIEF)
    const { session } = await here.pushVisit('2026-04-10')
    await until(() => anew.events.length === 1)
    expect(anew.events[0]?.data.sessionStored.id).toBe(session.id)
    const lines = await sql(`select pid from pg_stat_activity where application_name = 'limb-ledger-announcements' and datname = current_database()`) // prettier-ignore
    expect(lines.length).toBeLessThanOrEqual(2)
  })
})

const makeWorldBeside = async () => {
  const { worldIn } = await import('../../application/sessions/documents.ts')
  return worldIn(service, here.clinic, 'RB-2')
}

describe('whoever subscribes', () => {
  it('is closed when the token expires, though nothing happens', async () => {
    const token = await service.mint({ sub: here.clinic.subs.clinician, clinic: here.clinic.clinicId, exp: Math.floor(Date.now() / 1000) + 3 }) // prettier-ignore
    const told = await follow(service, token, BRIEF)
    expect(told.closed()).toBeUndefined()
    await until(() => told.closed() !== undefined)
    expect(told.closed()).toMatchObject({ code: 4403, reason: 'The token has expired' })
  })

  it('is closed when the member is removed, though nothing happens; nothing is told afterwards', async () => {
    const world = await makeWorld(service)
    const told = await follow(service, world.clinic.tokens.clinician, BRIEF)
    await withOwner(database.adminUrl, (client) => removeMember(client, { clinicId: world.clinic.clinicId, issuer: ISSUER, sub: world.clinic.subs.clinician })) // prettier-ignore
    await until(() => told.closed() !== undefined)
    expect(told.closed()).toMatchObject({ code: 4403, reason: 'No longer a member' })
    await world.pushVisit('2026-03-02')
    expect(told.events).toEqual([])
    expect(await securityCodes()).toContain('not_a_member')
  })

  it('is told nothing of what is stored in the moment after the removal', async () => {
    const world = await makeWorld(second)
    const told = await follow(second, world.clinic.tokens.clinician, BRIEF)
    await withOwner(database.adminUrl, (client) => removeMember(client, { clinicId: world.clinic.clinicId, issuer: ISSUER, sub: world.clinic.subs.clinician })) // prettier-ignore
    await world.pushVisit('2026-03-02')
    // This service looks every ten seconds; the announcement is what makes it look now.
    await until(() => told.closed() !== undefined, 5_000)
    expect([told.closed()?.code, told.events]).toEqual([4403, []])
  })

  it('is refused with a role that may not read, with an event in the log', async () => {
    const told = await follow(service, here.clinic.tokens.auditor, BRIEF)
    expect(told.ended()).toMatchObject([{ extensions: { code: 'FORBIDDEN' } }])
    const refused = await sql(`select outcome from audit_event where actor_principal_id = $1 and action = 'sessions.read'`, [here.clinic.principals.auditor]) // prettier-ignore
    expect(refused).toEqual([{ outcome: 'refused' }])
  })

  it('is refused with the token of a team, of nobody, and without one: 4403, noted', async () => {
    const { token } = await freshTeam(service)
    for (const [payload, code] of [
      [{ authorization: `Bearer ${token}` }, 'team_token'],
      [{ authorization: 'Bearer a.b.c' }, 'not_canonical'],
      [{}, 'no_bearer_token'],
      [undefined, 'no_bearer_token'],
      [{ authorization: `Bearer ${here.clinic.tokens.owner}`, purpose: 'A whole sentence' }, 'malformed_request'],
    ] as const) {
      // prettier-ignore
      const raw = await rawSocket(service.url)
      raw.say({ type: 'connection_init', payload })
      expect(await raw.closed).toEqual({ code: 4403, reason: 'Forbidden' })
      expect(raw.heard).toEqual([])
      expect((await securityCodes()).at(-1)).toBe(code)
    }
  })

  it('may send the token with the upgrade', async () => {
    const raw = await rawSocket(service.url, { headers: { authorization: `Bearer ${here.clinic.tokens.integration}` } })
    raw.say({ type: 'connection_init' })
    await until(() => raw.heard.length === 1)
    expect(raw.heard).toEqual([{ type: 'connection_ack' }])
    raw.socket.close()
  })

  it('has a few connections and a few subscriptions on each', async () => {
    const token = there.clinic.tokens.assistant
    const raws = []
    for (let n = 0; n < 4; n++) raws.push(await initialised(service.url, token))
    const fifth = await rawSocket(service.url)
    fifth.say({ type: 'connection_init', payload: { authorization: `Bearer ${token}` } })
    expect(await fifth.closed).toEqual({ code: 1013, reason: 'Too many connections' })
    const [first] = raws
    for (let n = 0; n < 21; n++) first?.say(subscribeTo(BRIEF, `s${n}`))
    await until(() => first!.heard.length === 2)
    expect(first?.heard[1]).toMatchObject({ id: 's20', type: 'error', payload: [{ extensions: { code: 'TOO_MANY_REQUESTS' } }] }) // prettier-ignore
    first?.socket.close()
    await first?.closed
    const again = await initialised(service.url, token)
    expect(again.heard).toEqual([{ type: 'connection_ack' }])
    for (const { socket } of [...raws, again]) socket.close()
  })
})

describe('what is refused', () => {
  const token = () => there.clinic.tokens.clinician

  it('a connection that says nothing: 4408, noted', async () => {
    expect((await (await rawSocket(service.url)).closed).code).toBe(4408)
    // Noted once it is closed.
    await expect.poll(securityCodes, { timeout: 10_000 }).toContain('request_too_slow')
  })

  it.each([
    ['no JSON', 'garbage', 4400],
    ['a repeated key', '{"type":"connection_init","type":"ping"}', 4400],
    ['an unknown message', '{"type":"open_sesame"}', 4400],
    ['a subscription before connection_init', JSON.stringify(subscribeTo(BRIEF)), 4401],
    ['a message of 64 kB', `{"type":"ping","payload":{"a":"${'x'.repeat(65_536)}"}}`, 1009],
  ])('%s', async (_what, text, code) => {
    const raw = await rawSocket(service.url)
    raw.say(text)
    expect((await raw.closed).code).toBe(code)
  })

  it('bytes that are no text, a second connection_init, a second subscription of one id', async () => {
    const bytes = await rawSocket(service.url)
    bytes.socket.send(Buffer.from('{"type":"ping"}'), { binary: true })
    const twice = await initialised(service.url, token())
    twice.say({ type: 'connection_init' })
    const same = await initialised(service.url, token())
    same.say(subscribeTo(BRIEF))
    same.say(subscribeTo(BRIEF))
    expect((await Promise.all([bytes.closed, twice.closed, same.closed])).map(({ code }) => code)).toEqual([4400, 4429, 4409]) // prettier-ignore
  })

  it('another protocol', async () => {
    await expect(rawSocket(service.url, { protocol: 'graphql-ws' })).rejects.toThrow()
  })

  it.each([
    ['a query', '{ me { clinic { id } } }', 'BAD_OPERATION'],
    ['a mutation', 'mutation { inviteTeam(teamId: "x", idempotencyKey: "k") { id } }', 'BAD_OPERATION'],
    ['two fields at once', 'subscription { sessionStored { id } reportSigned { id } }', 'BAD_OPERATION'],
    ['the schema', 'subscription { sessionStored { id } } { __schema { types { name } } }', 'BAD_OPERATION'],
    ['sixteen aliases', `subscription { sessionStored { ${Array.from({ length: 16 }, (_, n) => `a${n}: id`).join(' ')} } }`, 'BAD_OPERATION'], // prettier-ignore
    ['too many tokens', `subscription { sessionStored { ${'id '.repeat(1_000)} } }`, 'BAD_OPERATION'],
    ['a syntax tree', JSON.stringify({ kind: 'Document', definitions: [] }), 'BAD_USER_INPUT'],
    ['what is unknown', 'subscription { somethingElse { id } }', 'BAD_OPERATION'],
    ['nothing, by a condition', 'subscription { sessionStored @skip(if: true) { id } }', 'BAD_OPERATION'],
    ['what costs more than 5,000', `subscription { sessionStored { results { ${'id '.repeat(700)} } } }`, 'QUERY_TOO_COSTLY'], // prettier-ignore
  ])('%s', async (_what, query, code) => {
    const raw = await initialised(service.url, token())
    raw.say(subscribeTo(query))
    await until(() => raw.heard.length === 2)
    expect(raw.heard[1]).toMatchObject({ id: 's', type: 'error' })
    const [{ extensions }] = raw.heard[1].payload
    expect(extensions.code).toBe(code)
    const events = await sql(`select action, outcome, details from audit_event where request_id = $1`, [extensions.problem.requestId]) // prettier-ignore
    expect(events).toEqual([{ action: 'graphql.operation', outcome: 'refused', details: { code: extensions.problem.code } }]) // prettier-ignore
    raw.socket.close()
    await raw.closed
  })

  it.each([
    ['messages', (raw: RawSocket) => raw.say(`{"type":"ping","payload":{"a":"${'x'.repeat(60_000)}"}}`), 60_000],
    ['frames of the protocol', ({ socket }: RawSocket) => socket.ping('x'.repeat(125)), 125],
  ])(
    'to read more %s of whoever does not read the answers',
    async (_what, ping, bytes) => {
      const raw = await initialised(second.url, await second.mint({ sub: here.clinic.subs.clinician, clinic: here.clinic.clinicId })) // prettier-ignore
      let answers = 0
      raw.socket.on('message', () => answers++).on('pong', () => answers++)
      raw.socket.pause()
      const count = Math.ceil(48_000_000 / bytes)
      for (let n = 0; n < count; n++) ping(raw)
      // Once the service has stopped reading, nothing more leaves the client.
      let [before, waiting] = [Infinity, raw.socket.bufferedAmount]
      while (waiting < before) {
        await new Promise((resolve) => setTimeout(resolve, 1_000))
        ;[before, waiting] = [waiting, raw.socket.bufferedAmount]
      }
      expect(waiting).toBeGreaterThan(24_000_000)
      raw.socket.resume()
      await until(() => answers === count, 60_000)
      raw.socket.close()
    },
    90_000,
  )

  it('a crowd of operations on one socket, each for what it is, while others are answered as ever', async () => {
    const raw = await initialised(second.url, await second.mint({ sub: here.clinic.subs.clinician, clinic: here.clinic.clinicId })) // prettier-ignore
    for (let n = 0; n < 600; n++) raw.say(subscribeTo('{ me { role } }', `s${n}`))
    const api = second.api(await second.mint({ sub: here.clinic.subs.owner, clinic: here.clinic.clinicId }))
    for (let n = 0; n < 20; n++) expect((await api.get('/v1/subjects?limit=1')).status).toBe(200)
    await until(() => raw.heard.length === 601, 60_000)
    const codes = raw.heard.slice(1).map(({ payload }) => payload[0].extensions.code as string)
    // Those above the number of subscriptions are refused for that, the others for not being one.
    expect(new Set(codes)).toEqual(new Set(['TOO_MANY_REQUESTS', 'BAD_OPERATION']))
    raw.socket.close()
  }, 90_000)

  it('more than eight levels, which is as deep as a session goes', async () => {
    const raw = await initialised(service.url, token())
    const levels = (deepest: string) => `subscription { sessionStored { results { detail { repetitions { list { loadRange { start { ${deepest} } } } } } } } }` // prettier-ignore
    raw.say(subscribeTo(levels('value { more }'), 'nine'))
    await until(() => raw.heard.length === 2)
    expect(raw.heard[1]).toMatchObject({ id: 'nine', type: 'error' })
    const said = raw.heard[1].payload.map(({ message, extensions }: { message: string; extensions: { code: string } }) => `${extensions.code} ${message}`) // prettier-ignore
    expect(said.join('\n')).toContain('BAD_OPERATION Query depth limit of 8 exceeded')
    const before = service.follows()
    raw.say(subscribeTo(levels('value'), 'eight'))
    await until(() => service.follows() > before)
    raw.socket.close()
  })

  it('a mutation that would be accepted over HTTP, and it has no effect', async () => {
    const subjects = async () => (await there.owner.get('/v1/subjects?limit=200')).body.items.length as number
    const before = await subjects()
    const raw = await initialised(service.url, token())
    const query = 'mutation { createSubject(document: { sex: female }, idempotencyKey: "over-the-socket") { id } }'
    raw.say(subscribeTo(query))
    await until(() => raw.heard.length === 2)
    expect(raw.heard[1]).toMatchObject({ type: 'error', payload: [{ message: 'Here one subscription is asked for; queries and mutations go over HTTP.', extensions: { code: 'BAD_OPERATION' } }] }) // prettier-ignore
    expect(await subjects()).toBe(before)
    expect((await dataOf(asker(service, token())(query))).createSubject.id).toBeTypeOf('string')
    expect(await subjects()).toBe(before + 1)
    raw.socket.close()
  })

  it('a subscription over HTTP', async () => {
    const answer = await service.api(token()).post('/graphql', { query: BRIEF }, { key: null })
    expect([answer.status, answer.body.errors[0].extensions.code]).toEqual([400, 'BAD_OPERATION'])
  })

  it('a socket at another address; while another upgrade is only not done', async () => {
    await expect(rawSocket(service.url.replace('/graphql', '/v1/subjects'))).rejects.toThrow('401')
    const status = await new Promise<number | undefined>((resolve, reject) => {
      httpRequest(service.url.replace('ws:', 'http:').replace('/graphql', '/livez'), { headers: { connection: 'Upgrade, HTTP2-Settings', upgrade: 'h2c', 'http2-settings': 'AAMAAABkAAQCAAAAAAIAAAAA' } }, (answer) => { answer.resume(); resolve(answer.statusCode) }).on('error', reject).end() // prettier-ignore
    })
    expect(status).toBe(200)
  })
})

describe('with persisted operations', () => {
  it('a subscription runs by its key, and no other', async () => {
    const strict = await listeningService(database, { graphql: { introspection: false, persisted: { stored: BRIEF }, explorer: null } }) // prettier-ignore
    const world = await makeWorld(strict)
    const raw = await initialised(strict.url, world.clinic.tokens.clinician)
    raw.say(subscribeTo(BRIEF, 'text'))
    await until(() => raw.heard.length === 2)
    expect(raw.heard[1]).toMatchObject({ id: 'text', payload: [{ extensions: { code: 'PERSISTED_QUERY_NOT_FOUND' } }] })
    raw.say({ id: 'key', type: 'subscribe', payload: { query: '', extensions: { persistedQuery: { sha256Hash: 'stored' } } } }) // prettier-ignore
    await until(() => strict.follows() === 1)
    await world.pushVisit('2026-03-02')
    await until(() => raw.heard.length === 3)
    expect(raw.heard[2]).toMatchObject({
      id: 'key',
      type: 'next',
      payload: { data: { sessionStored: { version: 1 } } },
    })
  })
})

describe('the client in the README', () => {
  it('prints what is pushed, as it stands there', async () => {
    const code = /```js\n([\s\S]*?)```/.exec(readme)?.[1] ?? ''
    const env = { ...process.env, ADDRESS: service.url, TOKEN: here.clinic.tokens.clinician }
    const before = service.follows()
    const client = spawn(process.execPath, ['--input-type=module', '-e', code], { env, stdio: ['ignore', 'pipe', 'inherit'] }) // prettier-ignore
    let printed = ''
    client.stdout.on('data', (chunk: Buffer) => (printed += chunk.toString()))
    try {
      await until(() => service.follows() > before)
      const { session } = await here.pushVisit('2026-04-20')
      await until(() => printed.includes('\n'))
      expect(JSON.parse(printed)).toMatchObject({ id: session.id, startedAt: '2026-04-20T09:05:00+01:00' })
      expect(JSON.parse(printed).results.length).toBeGreaterThan(0)
    } finally {
      client.kill()
    }
  })
})

const refusedUpgrade = (url: string): Promise<unknown> =>
  new Promise((resolve, reject) => {
    const socket = new Socket(url, 'graphql-transport-ws')
    socket.on('error', () => undefined)
    socket.on('open', () => reject(new Error('was taken')))
    socket.on('unexpected-response', (_request, answer) => {
      answer.on('data', (body: Buffer) => resolve([answer.statusCode, answer.headers['retry-after'], (JSON.parse(body.toString()) as { code: string }).code])) // prettier-ignore
    })
  })

describe('a service that closes', () => {
  it('says goodbye to its sockets, and does not wait for those that do not answer', async () => {
    const closing = await listeningService(database)
    const world = await makeWorld(closing)
    const told = await follow(closing, world.clinic.tokens.clinician, BRIEF)
    const deaf = await rawSocket(closing.url)
    ;(deaf.socket as WebSocket & { _socket: { pause(): void } })._socket.pause()
    const since = Date.now()
    await closing.app.close()
    expect(Date.now() - since).toBeLessThan(10_000)
    await until(() => told.closed() !== undefined)
    expect(told.closed()).toMatchObject({ code: 1001 })
  })

  it('takes no more sockets, though a deaf one holds it up, and ends', async () => {
    const closing = await listeningService(database)
    const world = await makeWorld(closing)
    const known = await initialised(closing.url, world.clinic.tokens.clinician)
    const deaf = await rawSocket(closing.url)
    ;(deaf.socket as WebSocket & { _socket: { pause(): void } })._socket.pause()
    const ended = closing.app.close().then(() => 'ended')
    // Answered to, so the service is closing and still listens: it waits for the deaf one.
    expect((await known.closed).code).toBe(1001)
    expect(await refusedUpgrade(closing.url)).toEqual([503, '5', 'busy'])
    expect(await Promise.race([ended, new Promise((resolve) => setTimeout(resolve, 8_000, 'still there'))])).toBe('ended') // prettier-ignore
  })

  it('has named nobody in its log', () => {
    for (const text of [here.clinic.tokens.clinician, 'Member, clinician', ...Object.values(here.clinic.subs)]) expect(service.logged()).not.toContain(text) // prettier-ignore
  })
})
