import { spawn, type ChildProcess } from 'node:child_process'
import { chmodSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import pg from 'pg'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { startEmbeddedPostgres, stopEmbeddedPostgres, type EmbeddedPostgres } from '../../src/embedded/postgres.ts'
import { isServerOf, runningPostmaster } from '../../src/embedded/postmaster-pid.ts'

// Each test makes a cluster, which takes a second on a free machine and many on a busy one.
vi.setConfig({ testTimeout: 120_000 })

let directory: string
const opened: { stop(): Promise<void> }[] = []
const children: ChildProcess[] = []

beforeEach(() => {
  directory = mkdtempSync(join(tmpdir(), 'limb-ledger-test-'))
  chmodSync(directory, 0o711)
})

afterEach(async () => {
  for (const child of children.splice(0)) child.kill('SIGKILL')
  for (const server of opened.splice(0)) await server.stop()
  await stopEmbeddedPostgres(directory)
  rmSync(directory, { recursive: true, force: true })
})

async function start(options: Parameters<typeof startEmbeddedPostgres>[0] = { directory }): Promise<EmbeddedPostgres> {
  const server = await startEmbeddedPostgres(options)
  opened.push(server)
  return server
}

async function query<Row extends pg.QueryResultRow>(url: string, sql: string): Promise<Row[]> {
  const client = new pg.Client({ connectionString: url })
  await client.connect()
  try {
    return (await client.query<Row>(sql)).rows
  } finally {
    await client.end()
  }
}

function hold(...args: string[]): ChildProcess {
  const program = fileURLToPath(new URL('hold-postgres.ts', import.meta.url))
  const child = spawn(process.execPath, [program, ...args], { stdio: ['ignore', 'pipe', 'inherit'] })
  children.push(child)
  return child
}

async function started(child: ChildProcess): Promise<EmbeddedPostgres> {
  for await (const line of child.stdout ?? []) return JSON.parse(String(line)) as EmbeddedPostgres
  throw new Error('the holder ended without a word')
}

async function until(condition: () => boolean, what: string): Promise<void> {
  const deadline = Date.now() + 60_000
  while (!condition()) {
    if (Date.now() > deadline) throw new Error(`waited in vain until ${what}`)
    await new Promise((settle) => setTimeout(settle, 25))
  }
}

describe('an embedded Postgres', () => {
  it('keeps its data between runs, listens on loopback alone and takes no connection without the password', async () => {
    const first = await start()
    await query(first.adminUrl, 'create table kept as select 42 as answer')
    expect(await query(first.adminUrl, 'show listen_addresses')).toEqual([{ listen_addresses: '127.0.0.1' }])
    const withoutPassword = new URL(first.adminUrl)
    withoutPassword.password = 'guess'
    await expect(query(withoutPassword.href, 'select 1')).rejects.toThrow('password authentication failed')
    expect(statSync(join(first.dataDirectory, 'superuser-password')).mode & 0o777).toBe(0o600)
    await first.stop()
    expect(runningPostmaster(first.dataDirectory)).toBeNull()

    const second = await start()
    expect(second.attached).toBe(false)
    expect(await query(second.adminUrl, 'select answer from kept')).toEqual([{ answer: 42 }])
  })

  it('keeps the durable settings of Postgres', async () => {
    const { adminUrl } = await start()
    const sql = `select name, setting from pg_settings
      where name in ('fsync', 'full_page_writes', 'synchronous_commit') order by name`
    expect((await query<{ setting: string }>(adminUrl, sql)).map((row) => row.setting)).toEqual(['on', 'on', 'on'])
  })

  it('is removed with its data after a temporary run, and two such runs do not meet', async () => {
    const [one, two] = await Promise.all([start({}), start({})])
    expect(one.port).not.toBe(two.port)
    await query(one.adminUrl, 'create table only_here (n int)')
    expect(await query(two.adminUrl, `select to_regclass('only_here') as found`)).toEqual([{ found: null }])
    await one.stop()
    expect(existsSync(dirname(one.dataDirectory))).toBe(false)
  })

  it('is shared by a second start on the same directory, whose stop leaves it to the first', async () => {
    const [one, two] = await Promise.all([start(), start()])
    expect(one.attached).not.toBe(two.attached)
    expect(one.pid).toBe(two.pid)
    const [owner, guest] = one.attached ? [two, one] : [one, two]
    await guest.stop()
    expect(await query(owner.adminUrl, 'select 1 as alive')).toEqual([{ alive: 1 }])
  })

  it('ends soon after its parent was killed, and the next start recovers what was committed', async () => {
    const child = hold(directory)
    const server = await started(child)
    await query(server.adminUrl, 'create table kept as select 42 as answer')
    child.kill('SIGKILL')
    await until(() => !isServerOf(server.pid, server.dataDirectory), 'the orphan had ended')
    const next = await start()
    expect(await query(next.adminUrl, 'select answer from kept')).toEqual([{ answer: 42 }])
  })

  it('leaves no temporary directory behind when its parent was killed', async () => {
    const child = hold()
    const server = await started(child)
    child.kill('SIGKILL')
    await until(() => !existsSync(dirname(server.dataDirectory)), 'the directory was gone')
  })

  it('recovers when server and parent were killed at once', async () => {
    const child = hold(directory)
    const server = await started(child)
    await query(server.adminUrl, 'create table kept as select 42 as answer')
    process.kill(server.pid, 'SIGKILL')
    child.kill('SIGKILL')
    await until(() => !isServerOf(server.pid, server.dataDirectory), 'the server had ended')
    expect(existsSync(join(server.dataDirectory, 'postmaster.pid'))).toBe(true)
    const next = await start()
    expect(await query(next.adminUrl, 'select answer from kept')).toEqual([{ answer: 42 }])
  })

  it('is not fooled by a left-over pid file whose number belongs to another program', async () => {
    const first = await start()
    const pidFile = join(first.dataDirectory, 'postmaster.pid')
    const lines = readFileSync(pidFile, 'utf8').split('\n')
    await first.stop()
    writeFileSync(pidFile, [process.pid, ...lines.slice(1)].join('\n'))
    expect((await start()).attached).toBe(false)
  })

  // The orphaned initdb begins, writes and clears up on its own clock: interrupted at several moments of it.
  it.each([0, 20, 100])('starts clean after an initdb that was interrupted half-way, %i ms in', async (delayMs) => {
    const child = hold(directory)
    const isDraft = (name: string) => name.startsWith('initialising-')
    await until(() => readdirSync(directory).some(isDraft), 'initdb had begun')
    await new Promise((settle) => setTimeout(settle, delayMs))
    child.kill('SIGKILL')
    await until(() => child.signalCode !== null, 'the parent was gone')
    const server = await start()
    expect(await query(server.adminUrl, 'select 1 as alive')).toEqual([{ alive: 1 }])
    expect(readdirSync(directory)).toEqual(['cluster'])
  })

  it('refuses a directory written by another major version, in words', async () => {
    const server = await start()
    await server.stop()
    writeFileSync(join(server.dataDirectory, 'PG_VERSION'), '15\n')
    await expect(start()).rejects.toThrow(/was written by PostgreSQL 15 and this is 18, which cannot read it/)
  })

  it('refuses a disk without room, in words and with figures, and leaves nothing there', async () => {
    await expect(start({ directory, minimumFreeBytes: Number.MAX_SAFE_INTEGER })).rejects.toThrow(
      /too full for a database: \d+ MB free, \d+ MB wanted/,
    )
    expect(readdirSync(directory)).toEqual([])
  })

  it('shows the last words of a server that does not start', async () => {
    await expect(start({ directory, settings: { max_connections: 'many' } })).rejects.toThrow(
      /did not start: .*max_connections/,
    )
  })

  it.runIf(process.getuid?.() === 0)('moves out of a folder that is closed to the account of the server', async () => {
    chmodSync(directory, 0o700)
    const steps: string[] = []
    const server = await start({ directory, onStep: (sentence) => steps.push(sentence) })
    try {
      expect(server.dataDirectory.startsWith(directory)).toBe(false)
      expect(steps[0]).toContain(`keeping the database in ${dirname(server.dataDirectory)}`)
      expect(await query(server.adminUrl, 'select 1 as alive')).toEqual([{ alive: 1 }])
    } finally {
      await server.stop()
      chmodSync(directory, 0o711)
      rmSync(dirname(server.dataDirectory), { recursive: true, force: true })
    }
  })

  it('can be stopped by its directory from another process', async () => {
    const child = hold(directory)
    const server = await started(child)
    expect(await stopEmbeddedPostgres(directory)).toBe(true)
    expect(isServerOf(server.pid, server.dataDirectory)).toBe(false)
    expect(await stopEmbeddedPostgres(directory)).toBe(false)
  })
})
