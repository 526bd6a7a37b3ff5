/**
 * One connection for all clinics and one for all teams: whatever a request leaves on it meets the next clinic's. Requests of
 * three clinics take turns on it, and end in every way a request can end.
 *
 *   LIMB_LEDGER_POOL_REQUESTS=20000 npm test -- tests/tenancy/pool-reuse
 */
import { Agent, request as httpRequest, type IncomingHttpHeaders } from 'node:http'
import type { AddressInfo } from 'node:net'
import pg from 'pg'
import { v7 as uuidv7 } from 'uuid'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { addTeamReader, withOwner } from '../../src/store/admin-store.ts'
import { LOGIN_ROLES } from '../../src/store/migrate/ensure-roles.ts'
import type { ClinicRole } from '../../src/tenancy/actor.ts'
import { forTeamsOnly, openDatabase } from '../../src/tenancy/database.ts'
import { mulberry32 } from '../application/audit/journal.ts'
import { seriesQuery, sql } from '../application/sessions/documents.ts'
import { makeIds, type Ids } from '../faces/rest/route-recipes.ts'
import { freshClinic, ISSUER, makeTestService } from '../harness/clinic.ts'
import { subjectBody } from '../harness/samples.ts'
import { testDatabase } from '../harness/test-database.ts'

const REQUESTS = Number(process.env['LIMB_LEDGER_POOL_REQUESTS'] ?? 2_000)
const AT_ONCE = 6
const A_KILL_EVERY = 20
/** A clinic's own record of this number ends in an error of the database, in the middle of its transaction. */
const PLANTED = 'PLANTED-FAULT'
/** And of this one waits there for a while, so that a killed connection is killed at work. */
const SLOW = 'SLOW-RECORD'

const database = await testDatabase()
const db = openDatabase(database.appUrl, { poolSize: 1, maxWaitMs: 20_000 })
const teamDb = forTeamsOnly(openDatabase(database.teamUrl, { poolSize: 1, maxWaitMs: 20_000 }))
const service = await makeTestService(database, { db, teamDb }, { plantedFault: PLANTED })
afterAll(() => Promise.all([db.close(), teamDb.close()]))

interface Player {
  readonly ids: Ids
  readonly tokens: Readonly<Record<ClinicRole | 'reader' | 'stranger', string>>
  /** Whoever may stand in its log. */
  readonly actors: readonly string[]
  /** Of the others: none of it may be in an answer to this clinic. */
  readonly foreign: string[]
  /** Subjects that this clinic made here; none of them is anyone else's. */
  readonly made: Set<string>
}

const players: Player[] = []
const superuser = new pg.Client({ connectionString: database.adminUrl })
const agent = new Agent({ keepAlive: true, maxSockets: AT_ONCE })
let port = 0

beforeAll(async () => {
  await superuser.connect()
  await superuser.query(`
      create function planted_fault() returns trigger language plpgsql as $$ begin
        if new.value like '${SLOW}%' then perform pg_sleep(0.01); return new; end if;
        raise exception '${PLANTED}';
      end $$;
      create trigger planted_fault before insert on subject_identifier for each row
        when (new.value like '${PLANTED}%' or new.value like '${SLOW}%') execute function planted_fault()`)
  const clinics = [await freshClinic(service), await freshClinic(service), await freshClinic(service)]
  for (const [n, clinic] of clinics.entries()) {
    const ids = await makeIds(service, clinic, `CANARY-${n}`)
    const sub = `reader-${uuidv7()}`
    const reader = await withOwner(database.adminUrl, (client) => addTeamReader(client, { teamId: ids.teamId, issuer: ISSUER, sub, displayName: 'Reader' })) // prettier-ignore
    const neighbour = clinics[(n + 1) % clinics.length]?.clinicId ?? ''
    const tokens = {
      ...clinic.tokens,
      reader: await service.mint({ sub, team: ids.teamId }),
      stranger: await service.mint({ sub: clinic.subs.owner, clinic: neighbour }),
    }
    players.push({ ids, tokens, actors: [...Object.values(clinic.principals), reader], foreign: [], made: new Set() })
  }
  for (const player of players) {
    for (const other of players) if (other !== player) player.foreign.push(...canariesOf(other.ids))
  }
  await service.app.listen({ host: '127.0.0.1', port: 0 })
  port = (service.app.server.address() as AddressInfo).port
}, 60_000)
afterAll(async () => {
  agent.destroy()
  await superuser.end()
})

const RECORDS = ['subjectId', 'episodeId', 'dynamometerId', 'sessionId', 'resultId', 'otherResultId', 'flagId', 'holdId', 'consentId', 'reportId', 'teamId', 'criteriaSetKey'] as const // prettier-ignore

function canariesOf(ids: Ids): string[] {
  const { clinic, number } = ids.world
  return [
    clinic.clinicId,
    clinic.name,
    number,
    ...Object.values(clinic.principals),
    ...RECORDS.map((name) => ids[name]),
  ]
}

interface Answer {
  readonly status: number
  readonly headers: IncomingHttpHeaders
  readonly text: string
}

/** Over a socket, since one that is destroyed is what this is about; null where it was. */
function send(
  method: 'GET' | 'POST',
  path: string,
  token: string,
  sent: { body?: unknown; key?: string; abortAfterMs?: number; purpose?: string } = {},
): Promise<Answer | null> {
  return new Promise((settle, fail) => {
    const going = httpRequest(
      {
        host: '127.0.0.1',
        port,
        method,
        path,
        agent,
        headers: {
          authorization: `Bearer ${token}`,
          ...(sent.body === undefined
            ? {}
            : { 'content-type': 'application/json', 'idempotency-key': sent.key ?? uuidv7() }),
          ...(sent.purpose === undefined ? {} : { purpose: sent.purpose }),
        },
      },
      (response) => {
        const pieces: Buffer[] = []
        response.on('data', (piece: Buffer) => pieces.push(piece))
        response.on('end', () =>
          settle({
            status: response.statusCode ?? 0,
            headers: response.headers,
            text: Buffer.concat(pieces).toString('utf8'),
          }),
        )
        response.on('error', () => settle(null))
      },
    )
    going.on('error', (error) => (sent.abortAfterMs === undefined ? fail(error) : settle(null)))
    if (sent.abortAfterMs !== undefined) setTimeout(() => going.destroy(), sent.abortAfterMs)
    going.end(
      sent.body === undefined ? undefined : typeof sent.body === 'string' ? sent.body : JSON.stringify(sent.body),
    )
  })
}

interface Move {
  /** What it ends in, unless its connection is killed meanwhile. */
  readonly status: number | 'aborted'
  readonly share: number
  readonly play: (player: Player, other: Player, random: () => number) => Promise<Answer | null>
  readonly check?: (answer: Answer, player: Player) => void
}

const idIn = (answer: Answer) => (JSON.parse(answer.text) as { id: string }).id
const newSubject = (player: Player, number: string, key?: string) =>
  send('POST', '/v1/subjects', player.tokens.clinician, {
    body: subjectBody(number),
    ...(key === undefined ? {} : { key }),
  })
const noteMade = (answer: Answer, player: Player): void => void player.made.add(idIn(answer))

const MOVES: Readonly<Record<string, Move>> = {
  'reads a subject': {
    status: 200,
    share: 6,
    play: (p) => send('GET', `/v1/subjects/${p.ids.subjectId}`, p.tokens.clinician),
    check: (a, p) => expect(idIn(a)).toBe(p.ids.subjectId),
  },
  'lists its sessions': {
    status: 200,
    share: 5,
    play: (p) => send('GET', '/v1/sessions', p.tokens.integration),
    check: (a) => expect(a.text).toContain('"items"'),
  },
  'reads a trend': {
    status: 200,
    share: 4,
    play: (p) =>
      send('GET', `/v1/subjects/${p.ids.subjectId}/trend?${seriesQuery({ side: 'right' })}`, p.tokens.assistant),
  },
  'reads its log': {
    status: 200,
    share: 2,
    play: (p) => send('GET', '/v1/audit/events?limit=20', p.tokens.auditor),
    check: ofOwnClinic,
  },
  'shows its team what was shared': {
    status: 200,
    share: 4,
    play: (p) => send('GET', '/v1/team/squad', p.tokens.reader, { purpose: 'availability-planning' }),
  },
  'makes a subject': { status: 201, share: 3, play: (p) => newSubject(p, `own-${uuidv7()}`), check: noteMade },
  "uses everybody's key": {
    status: 201,
    share: 2,
    play: (p, _o, random) => {
      const n = Math.floor(random() * 50)
      return newSubject(p, `shared-${n}`, `everybody-${n}`)
    },
    check: noteMade,
  },
  'makes a subject slowly': {
    status: 201,
    share: 2,
    play: (p) => newSubject(p, `${SLOW}-${uuidv7()}`),
    check: noteMade,
  },
  'is refused for faults': {
    status: 400,
    share: 3,
    play: (p) => send('POST', '/v1/subjects', p.tokens.clinician, { body: '{"name":' }),
  },
  'asks what nobody can ask': {
    status: 400,
    share: 2,
    play: (p) => send('GET', '/v1/subjects?limit=-1', p.tokens.clinician),
  },
  'comes without a membership': { status: 401, share: 2, play: (p) => send('GET', '/v1/subjects', p.tokens.stranger) },
  'comes in the wrong role': { status: 403, share: 2, play: (p) => send('GET', '/v1/subjects', p.tokens.auditor) },
  "asks for another clinic's subject": {
    status: 404,
    share: 5,
    play: (p, o) => send('GET', `/v1/subjects/${o.ids.subjectId}`, p.tokens.clinician),
  },
  "asks for another clinic's session": {
    status: 404,
    share: 3,
    play: (p, o) => send('GET', `/v1/sessions/${o.ids.sessionId}/results`, p.tokens.integration),
  },
  'makes what it has already': { status: 409, share: 3, play: (p) => newSubject(p, p.ids.world.number) },
  'meets a fault of ours': { status: 500, share: 3, play: (p) => newSubject(p, `${PLANTED}-${uuidv7()}`) },
  'hangs up': {
    status: 'aborted',
    share: 6,
    play: (p, _o, random) =>
      random() < 0.5
        ? send('GET', '/v1/sessions', p.tokens.clinician, { abortAfterMs: random() * 12 })
        : send('POST', '/v1/subjects', p.tokens.clinician, {
            body: subjectBody(`${SLOW}-${uuidv7()}`),
            abortAfterMs: 2 + random() * 12,
          }),
  },
}

function ofOwnClinic(answer: Answer, player: Player): void {
  const { items } = JSON.parse(answer.text) as { items: { actor: { principalId: string | null; role: string } }[] }
  expect(items.length).toBeGreaterThan(0)
  // What an operator did at the database names no member.
  for (const { actor } of items) if (actor.role !== 'operator') expect(player.actors).toContain(actor.principalId)
}

/** At work, not idle: whoever asked is in the middle of a transaction. */
async function killAtWork(): Promise<number> {
  const { rowCount } = await superuser.query(
    `select pg_terminate_backend(pid) from pg_stat_activity
     where datname = current_database() and usename = any ($1) and state <> 'idle'`,
    [[LOGIN_ROLES.app, LOGIN_ROLES.team]],
  )
  return rowCount ?? 0
}

describe(`${REQUESTS} requests of three clinics on one connection`, () => {
  const ended: Record<string, number> = {}
  let killed = 0
  let left = REQUESTS

  it(
    'answer nothing of another clinic, however the request before ended',
    async () => {
      const random = mulberry32(20261125)
      const deck = Object.entries(MOVES).flatMap(([name, { share }]) => Array.from({ length: share }, () => name))
      const onePlayer = async (): Promise<void> => {
        while (left > 0) {
          const turn = left--
          if (turn % A_KILL_EVERY === 0) killed += await killAtWork()
          const player = players[turn % players.length]
          const other = players[(turn + 1 + Math.floor(random() * 2)) % players.length]
          const name = deck[Math.floor(random() * deck.length)] ?? ''
          const move = MOVES[name]
          if (player === undefined || other === undefined || move === undefined) throw new Error('no one plays')
          const answer = await move.play(player, other, random)
          const outcome = answer === null ? 'aborted' : answer.status
          ended[outcome] = (ended[outcome] ?? 0) + 1
          if (answer === null) {
            expect(move.status, name).toBe('aborted')
            continue
          }
          const leaked = player.foreign.filter((canary) => answer.text.includes(canary) || JSON.stringify(answer.headers).includes(canary)) // prettier-ignore
          expect(leaked, `${name}: ${answer.text.slice(0, 300)}`).toEqual([])
          if (answer.status === 503 || move.status === 'aborted') continue
          expect(answer.status, `${name}: ${answer.text.slice(0, 300)}`).toBe(move.status)
          move.check?.(answer, player)
        }
      }
      await Promise.all(Array.from({ length: AT_ONCE }, onePlayer))
      console.log(
        `Pool reuse: ${REQUESTS} requests, ${killed} connections killed at work, endings ${JSON.stringify(ended)}`,
      )
    },
    REQUESTS * 60,
  )

  it('ended in every way there is', () => {
    const ways = ['200', '201', '400', '401', '403', '404', '409', '500', '503', 'aborted']
    expect(Object.keys(ended).sort()).toEqual(ways)
    expect(killed).toBeGreaterThan(REQUESTS / A_KILL_EVERY / 4)
  })

  it('left no clinic and no team on the connections', async () => {
    for (const { unsafeClient } of [db, teamDb]) {
      const [row] = await unsafeClient.$queryRaw<Record<string, string | null>[]>`
        select coalesce(current_setting('app.clinic_id', true), '') as clinic, coalesce(current_setting('app.team_id', true), '') as team,
               coalesce(current_setting('app.purpose', true), '') as purpose`
      expect(row).toEqual({ clinic: '', team: '', purpose: '' })
    }
  })

  it('made in each clinic what it asked for, and events of its own members alone', async () => {
    for (const { ids, made, actors } of players) {
      const { clinicId } = ids.world.clinic
      const own = await sql<{ id: string }>(service, 'select id from subject where clinic_id = $1', [clinicId])
      expect(own.map(({ id }) => id)).toEqual(expect.arrayContaining([...made]))
      const foreign = await sql(
        service,
        `select id from audit_event where clinic_id = $1 and actor_principal_id <> all ($2::uuid[])`,
        [clinicId, actors],
      )
      expect(foreign).toEqual([])
    }
    // The fault stands in the middle of a transaction: nothing of it stayed.
    expect(
      await sql(service, 'select subject_id from subject_identifier where starts_with(value, $1)', [PLANTED]),
    ).toEqual([])
  })
})
