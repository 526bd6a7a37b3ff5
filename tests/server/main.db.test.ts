import { spawn, type ChildProcess } from 'node:child_process'
import { chmodSync, mkdtempSync, rmSync } from 'node:fs'
import { Agent, request } from 'node:http'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, afterEach, describe, expect, it } from 'vitest'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { emptyDatabase, testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const empty = await emptyDatabase()
const main = fileURLToPath(new URL('../../src/main.ts', import.meta.url))
const dataDirectory = mkdtempSync(join(tmpdir(), 'limb-ledger-test-'))
// Postgres does not run as root, and its account must be able to enter.
chmodSync(dataDirectory, 0o711)
afterAll(() => rmSync(dataDirectory, { recursive: true, force: true }))

const children: ChildProcess[] = []
afterEach(() => {
  for (const child of children.splice(0)) child.kill('SIGKILL')
})

interface Run {
  readonly child: ChildProcess
  readonly said: () => string
  readonly ended: Promise<{ code: number | null; signal: NodeJS.Signals | null }>
}

function start(env: Record<string, string>): Run {
  const child = spawn(process.execPath, [main], {
    env: { PATH: process.env['PATH'], DATA_DIR: dataDirectory, PORT: '0', ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  children.push(child)
  let text = ''
  child.stdout.on('data', (chunk: Buffer) => (text += chunk.toString()))
  child.stderr.on('data', (chunk: Buffer) => (text += chunk.toString()))
  const ended = new Promise<{ code: number | null; signal: NodeJS.Signals | null }>((settle) =>
    child.once('close', (code, signal) => settle({ code, signal })),
  )
  return { child, said: () => text, ended }
}

async function listening(run: Run): Promise<number> {
  for (let i = 0; i < 1_000; i++) {
    const port = /listening at http:\/\/127\.0\.0\.1:(\d+)/.exec(run.said())?.[1]
    if (port !== undefined) return Number(port)
    // Its last words may come after its end.
    if (run.child.exitCode !== null && (await run.ended)) break
    await new Promise((settle) => setTimeout(settle, 25))
  }
  throw new Error(`it does not listen: ${run.said()}`)
}

function get(port: number, path: string, agent: Agent): Promise<number> {
  return new Promise((settle, fail) => {
    request({ host: '127.0.0.1', port, path, agent }, (answer) => {
      answer.resume().once('end', () => settle(answer.statusCode ?? 0))
    })
      .once('error', fail)
      .end()
  })
}

/** On a busy machine the first connections to the database take longer than a request may wait. */
async function untilReady(port: number, agent: Agent): Promise<void> {
  for (let i = 0; (await get(port, '/readyz', agent)) !== 200; i++) {
    if (i === 100) throw new Error('it does not become ready')
    await new Promise((settle) => setTimeout(settle, 50))
  }
}

/** Asked on a connection of its own: within a transaction the view does not change. */
async function untilSomeoneWaits(): Promise<void> {
  const blocked = `select from pg_stat_activity where wait_event_type = 'Lock' and datname = current_database()`
  await withClient(database.adminUrl, async (client) => {
    while ((await client.query(blocked)).rowCount === 0) await new Promise((settle) => setTimeout(settle, 10))
  })
}

// Each test starts a process of its own, which compiles the whole service.
describe('the service as a process', { timeout: 120_000 }, () => {
  it.each(['SIGTERM', 'SIGINT'] as const)('ends with 0 on %s, though a client keeps its connection', async (signal) => {
    const run = start({ DATABASE_URL: database.appUrl })
    const port = await listening(run)
    const agent = new Agent({ keepAlive: true })
    await untilReady(port, agent)
    run.child.kill(signal)
    expect(await run.ended).toEqual({ code: 0, signal: null })
    agent.destroy()
  })

  it('finishes a request that waits for the database when it is told to stop', async () => {
    const run = start({ DATABASE_URL: database.appUrl, LOG_LEVEL: 'info' })
    const port = await listening(run)
    const agent = new Agent({ keepAlive: true })
    await untilReady(port, agent)
    const status = await withClient(database.adminUrl, async (client) => {
      await client.query('begin')
      await client.query('lock table _prisma_migrations in access exclusive mode')
      const waiting = get(port, '/readyz', agent)
      await untilSomeoneWaits()
      run.child.kill('SIGTERM')
      await new Promise((settle) => setTimeout(settle, 100))
      await client.query('commit')
      return waiting
    })
    expect(status).toBe(200)
    expect(await run.ended).toEqual({ code: 0, signal: null })
    agent.destroy()
  })

  it.each([
    ['a database without our schema', { DATABASE_URL: empty.appUrl }, /no schema of ours.*npm run db:migrate/],
    ['a superuser', { DATABASE_URL: database.adminUrl }, /stands above row-level security/],
    ['a database that is not there', { DATABASE_URL: 'postgresql://a:b@127.0.0.1:1/c' }, /ECONNREFUSED/],
    ['a port that is none', { PORT: 'eighty' }, /PORT/],
    ['production without its settings', { NODE_ENV: 'production' }, /In production these must be set: DATABASE_URL/],
  ])('refuses %s in one sentence, and ends with 1', async (_what, env, words) => {
    const run = start(env)
    expect((await run.ended).code).toBe(1)
    expect(run.said()).toMatch(/^limb-ledger does not start: /m)
    expect(run.said()).toMatch(words)
    expect(run.said()).not.toMatch(/ {4}at |a:b@/)
  })

  it('brings its own Postgres and issuer where it is given none, and takes them down with it', async () => {
    const run = start({})
    const port = await listening(run)
    const agent = new Agent()
    await untilReady(port, agent)
    expect(await get(port, '/v1/me', agent)).toBe(401)
    run.child.kill('SIGTERM')
    expect(await run.ended).toEqual({ code: 0, signal: null })
    expect(run.said()).toContain('applied 0001_init')
  })
})
