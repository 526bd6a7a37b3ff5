import { spawn, type ChildProcess } from 'node:child_process'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { createServer, type AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { ISSUER, makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, rowCounts, sql } from './documents.ts'

const database = await testDatabase()
/** Arranges clinics and looks afterwards; what is killed is a process of its own on the same database. */
const service = await makeTestService(database)
const world = await makeWorld(service)
const directory = await mkdtemp(join(tmpdir(), 'limb-ledger-killed-'))
const jwksFile = join(directory, 'jwks.json')
await writeFile(jwksFile, await service.publicKeys())
afterAll(() => rm(directory, { recursive: true, force: true }))

const running = new Set<ChildProcess>()
afterEach(() => {
  for (const child of running) child.kill('SIGKILL')
  running.clear()
})

interface Started {
  readonly child: ChildProcess
  readonly url: string
}

async function startService(): Promise<Started> {
  const port = await freePort()
  const child = spawn(process.execPath, ['src/main.ts'], {
    cwd: new URL('../../..', import.meta.url),
    stdio: ['ignore', 'ignore', 'pipe'],
    env: {
      PATH: process.env['PATH'],
      DATABASE_URL: database.appUrl,
      ISSUERS: JSON.stringify([{ issuer: ISSUER, jwksFile }]),
      DATA_DIR: directory,
      PORT: String(port),
      POOL_SIZE: '4',
      LOG_LEVEL: 'silent',
    },
  })
  running.add(child)
  let said = ''
  child.stderr?.on('data', (chunk: Buffer) => (said += chunk.toString()))
  const url = `http://127.0.0.1:${port}`
  for (let tries = 0; tries < 200; tries++) {
    if (child.exitCode !== null) throw new Error(`the service did not start: ${said}`)
    const answer = await fetch(`${url}/livez`).catch(() => null)
    if (answer?.ok === true) {
      await untilItTakesRequests(url)
      return { child, url }
    }
    await new Promise((settle) => setTimeout(settle, 100))
  }
  throw new Error(`the service did not start: ${said}`)
}

/** Its first seconds are spent compiling, and it says that it is busy. */
async function untilItTakesRequests(url: string): Promise<void> {
  for (let tries = 0; tries < 100; tries++) {
    const headers = { authorization: `Bearer ${world.clinic.tokens.integration}` }
    if ((await fetch(`${url}/v1/me`, { headers })).status === 200) return
    await new Promise((settle) => setTimeout(settle, 100))
  }
}

/** As a process is killed that ran out of memory: at once, without a word. */
async function kill({ child }: Started): Promise<void> {
  const ended = new Promise((settle) => child.once('exit', settle))
  child.kill('SIGKILL')
  await ended
  running.delete(child)
}

const freePort = (): Promise<number> =>
  new Promise((settle) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as AddressInfo
      server.close(() => settle(port))
    })
  })

const push = (url: string, document: LooseDocument, key: string): Promise<Response> =>
  fetch(`${url}/v1/sessions`, {
    method: 'POST',
    headers: {
      authorization: `Bearer ${world.clinic.tokens.integration}`,
      'content-type': 'application/json',
      'idempotency-key': key,
    },
    body: JSON.stringify(document),
  })

/** As a client does that is told to come back: a process that has just started may be busy. */
async function pushAgain(url: string, document: LooseDocument, key: string): Promise<Response> {
  for (let tries = 0; ; tries++) {
    const answer = await push(url, document, key)
    if (answer.status !== 503 || tries === 40) return answer
    await new Promise((settle) => setTimeout(settle, 250))
  }
}

/** Sessions and results of a document, its kept key, and its push in the log: all four or none. */
async function effect(document: LooseDocument, key: string): Promise<Record<string, number>> {
  const [row] = await sql<Record<string, number>>(
    service,
    `with s as (select clinic_id, id from session where clinic_id = $1 and ext_value = $2)
     select (select count(*)::int from s) as sessions,
            (select count(*)::int from set_result r join s on r.clinic_id = s.clinic_id and r.session_id = s.id) as results,
            (select count(*)::int from idempotency where clinic_id = $1 and key = $3) as keys,
            (select count(*)::int from audit_event e where clinic_id = $1 and action = 'sessions.push' and outcome = 'done'
               and not coalesce((details ->> 'replayed')::boolean, false)
               and exists (select from s where e.resource_ids ? ('session/' || s.id))) as events`,
    [world.clinic.clinicId, document.externalId.value, key],
  )
  return row ?? {}
}

const NONE = { sessions: 0, results: 0, keys: 0, events: 0 }
const WHOLE = { sessions: 1, results: 4, keys: 1, events: 1 }

/** Holds every push at one point of its transaction until it is let go: the table it is about to write is locked. */
async function whileWaitingFor<T>(table: string, work: (waiting: () => Promise<void>) => Promise<T>): Promise<T> {
  return withClient(database.adminUrl, async (client) => {
    await client.query(`begin; lock table ${table} in exclusive mode`)
    const waiting = async (): Promise<void> => {
      for (let tries = 0; tries < 300; tries++) {
        // On a connection of its own: one transaction sees one snapshot of the activity.
        const blocked = await sql(
          service,
          `select from pg_stat_activity where datname = current_database() and wait_event_type = 'Lock'`,
        )
        if (blocked.length > 0) return
        await new Promise((settle) => setTimeout(settle, 10))
      }
      throw new Error(`no push came to ${table}`)
    }
    try {
      return await work(waiting)
    } finally {
      await client.query('rollback')
    }
  })
}

describe('the service killed in the middle of a push', () => {
  it('leaves nothing half there, wherever the push was; the retry with the same key has exactly one effect', async () => {
    let started = await startService()
    // At the first row, in the middle, and at the very last statement.
    for (const table of ['session', 'set_result', 'audit_event']) {
      const document = recorded(world.visit('2026-11-10', { change: (d) => delete d.screening.pain }), 7)
      const key = `killed at ${table}`.replaceAll(' ', '-')
      const before = await rowCounts(service)
      const dying = started
      await whileWaitingFor(table, async (waiting) => {
        const answer = push(dying.url, document, key).then(() => 'answered', () => 'cut') // prettier-ignore
        await waiting()
        await kill(dying)
        expect(await answer).toBe('cut')
      })
      await untilNoneIsOpen()
      expect([table, await effect(document, key)]).toEqual([table, NONE])
      expect([table, await rowCounts(service)]).toEqual([table, before])

      started = await startService()
      const first = await pushAgain(started.url, document, key)
      expect([table, first.status, await first.clone().text()]).toEqual([table, 201, expect.any(String)])
      const again = await pushAgain(started.url, document, key)
      expect(again.headers.get('idempotency-replayed')).toBe('true')
      expect(await again.text()).toBe(await first.text())
      expect([table, await effect(document, key)]).toEqual([table, WHOLE])
    }
    await kill(started)
  }, 120_000)

  it('after the effect but before the answer arrived: the retry is the replay of the answer that was lost', async () => {
    const started = await startService()
    const document = world.visit('2026-11-11')
    const first = await pushAgain(started.url, document, 'lost-answer')
    await kill(started)
    const next = await startService()
    const again = await pushAgain(next.url, document, 'lost-answer')
    expect([first.status, again.status]).toEqual([201, 201])
    expect(again.headers.get('idempotency-replayed')).toBe('true')
    expect(await effect(document, 'lost-answer')).toEqual(WHOLE)
    await kill(next)
  }, 60_000)

  it('at any moment: after each kill the visit is there whole or not at all, and the retry makes it whole', async () => {
    let started = await startService()
    for (const afterMs of [5, 30, 80]) {
      const document = recorded(world.visit('2026-11-12'), afterMs)
      const key = `after-${afterMs}`
      const answer = push(started.url, document, key).catch(() => null)
      await new Promise((settle) => setTimeout(settle, afterMs))
      await kill(started)
      await answer
      await untilNoneIsOpen()
      expect([NONE, WHOLE]).toContainEqual(await effect(document, key))
      started = await startService()
      expect((await pushAgain(started.url, document, key)).status).toBe(201)
      expect(await effect(document, key)).toEqual(WHOLE)
    }
    await kill(started)
  }, 120_000)
})

describe('a connection to the database killed in the middle of a push', () => {
  it('is a 503 with nothing stored; the retry with the same key works', async () => {
    for (const table of ['session', 'set_result', 'audit_event']) {
      const document = world.visit('2026-11-13')
      const key = `terminated-at-${table}`
      const before = await rowCounts(service)
      await whileWaitingFor(table, async (waiting) => {
        const answer = world.machine.post('/v1/sessions', document, { key })
        await waiting()
        await sql(
          service,
          `select pg_terminate_backend(pid) from pg_stat_activity
           where datname = current_database() and application_name = 'limb-ledger' and wait_event_type = 'Lock'`,
        )
        const { status, body, headers } = await answer
        expect([table, status, body.retry]).toEqual([table, 503, 'after_delay'])
        expect(headers['retry-after']).toMatch(/^\d+$/)
        expect(JSON.stringify(body)).not.toMatch(/terminat|connection|postgres|57P01/i)
      })
      expect(await rowCounts(service)).toEqual(before)
      expect((await world.machine.post('/v1/sessions', document, { key })).status).toBe(201)
      expect(await effect(document, key)).toEqual(WHOLE)
    }
  })
})

/** A backend whose client is gone takes a moment to notice and to take its transaction back. */
async function untilNoneIsOpen(): Promise<void> {
  let open: unknown[] = []
  for (let tries = 0; tries < 300; tries++) {
    open = await sql(
      service,
      `select state, wait_event_type, wait_event, query from pg_stat_activity
       where datname = current_database() and application_name = 'limb-ledger' and state <> 'idle'
         and pid <> pg_backend_pid()`,
    )
    if (open.length === 0) return
    await new Promise((settle) => setTimeout(settle, 20))
  }
  throw new Error(`a transaction of a killed service stays open: ${JSON.stringify(open)}`)
}
