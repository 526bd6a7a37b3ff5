import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { createServer, type RequestListener, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/limb-ledger.ts'
import { makeWorld, type World } from '../application/sessions/documents.ts'
import { makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let url: string
beforeAll(async () => {
  url = await service.app.listen({ port: 0, host: '127.0.0.1' })
})

let directory: string
beforeEach(async () => {
  directory = await mkdtemp(join(tmpdir(), 'limb-ledger-push-'))
})
afterEach(() => rm(directory, { recursive: true }))

interface Said {
  readonly code: number
  readonly lines: readonly Record<string, unknown>[]
  readonly end: Record<string, unknown> | undefined
  readonly err: string
}

async function push(text: string | Uint8Array, token: string, to = url): Promise<Said> {
  const [file, tokenFile] = [join(directory, 'visits.ndjson'), join(directory, 'token')]
  await writeFile(file, text)
  await writeFile(tokenFile, `${token}\n`)
  const [out, err]: [string[], string[]] = [[], []]
  const spies = [
    vi.spyOn(console, 'log').mockImplementation((line: string) => void out.push(line)),
    vi.spyOn(console, 'error').mockImplementation((line: string) => void err.push(line)),
  ]
  const code = await run(['push', '--file', file, '--token-file', tokenFile, '--url', to])
  for (const spy of spies) spy.mockRestore()
  const said = out.map((line) => JSON.parse(line) as Record<string, unknown>)
  return { code, lines: said.filter((line) => 'outcome' in line), end: said.find((line) => 'lines' in line), err: err.join('\n') } // prettier-ignore
}

const sessionsOf = async (world: World): Promise<number> => {
  const { items } = (await world.clinician.get(`/v1/sessions?subjectId=${world.subjectId}`)).body as {
    items: unknown[]
  }
  return items.length
}

describe('pushing many visits', () => {
  it('says what became of each line, in order; a bad line never stops the rest, and one cut short is not stored', async () => {
    const world = await makeWorld(service)
    const first = world.visit('2026-11-02') as object
    const second = world.visit('2026-11-09') as object
    const line = JSON.stringify(first)
    const other = JSON.stringify({ ...first, purpose: 'baseline_test' })
    const cut = JSON.stringify(world.visit('2026-11-16')).slice(0, -20)
    const text = [line, '{"externalId":', JSON.stringify(second), '', line, ` ${line}`, other, cut].join('\n')
    const { code, lines, end } = await push(text, world.clinic.tokens.integration)
    expect(lines.map(({ line, outcome, code }) => [line, outcome, code])).toEqual([
      [1, 'accepted', undefined],
      [2, 'rejected', 'invalid_json'],
      [3, 'accepted', undefined],
      [4, 'rejected', 'invalid_json'],
      [5, 'duplicate', undefined],
      [6, 'duplicate', undefined],
      [7, 'rejected', 'external_id_conflict'],
      [8, 'rejected', 'invalid_json'],
    ])
    expect(end).toEqual({ lines: 8, accepted: 2, duplicate: 2, rejected: 4 })
    expect(code).toBe(1)
    expect(await sessionsOf(world)).toBe(2)
    const ids = lines.map(({ sessionId }) => sessionId)
    expect(ids[4]).toBe(ids[0])
    expect(ids[5]).toBe(ids[0])
  })

  it('again stores nothing more', async () => {
    const world = await makeWorld(service)
    const text = `${JSON.stringify(world.visit('2026-11-02'))}\n${JSON.stringify(world.visit('2026-11-09'))}\n`
    expect((await push(text, world.clinic.tokens.integration)).end).toEqual({ lines: 2, accepted: 2, duplicate: 0, rejected: 0 }) // prettier-ignore
    const again = await push(text, world.clinic.tokens.integration)
    expect(again).toMatchObject({ code: 0, end: { lines: 2, accepted: 0, duplicate: 2, rejected: 0 } })
    expect(await sessionsOf(world)).toBe(2)
  })

  it('names what is on hold, and sends bytes on as they are', async () => {
    const world = await makeWorld(service)
    for (const day of ['2026-10-05', '2026-10-12'])
      await world.pushVisit(day, { extension: { left: 200, right: 190 }, flexion: { left: 110, right: 104 } })
    // The numbers of foot-pounds under the name of N.m.
    const inPounds: unknown = world.visit('2026-11-02', {
      extension: { left: 147.5, right: 140.1 },
      flexion: { left: 81.1, right: 76.7 },
    })
    const latin = Buffer.from(JSON.stringify({ ...(world.visit('2026-11-09') as object), notes: 'Gerät' }), 'latin1')
    const text = Buffer.concat([Buffer.from(`${JSON.stringify(inPounds)}\n`), latin])
    const { lines } = await push(text, world.clinic.tokens.integration)
    expect(lines[0]).toMatchObject({ outcome: 'accepted', holds: ['possible_unit_error'] })
    expect(lines[1]).toMatchObject({ outcome: 'rejected', code: 'invalid_json', errors: [{ code: 'invalid_utf8' }] })
  })

  it('ends where the token is refused, and says from which line on nothing is stored', async () => {
    const world = await makeWorld(service)
    const text = `${JSON.stringify(world.visit('2026-11-02'))}\n`
    const refused = await push(text, 'no-token')
    expect(refused).toMatchObject({ code: 1, lines: [], end: undefined })
    expect(refused.err).toContain('Nothing of line 1')
    expect((await push(text, world.clinic.tokens.auditor)).err).toContain('Nothing of line 1')
    expect(await sessionsOf(world)).toBe(0)
  })
})

describe('a service that does not answer at once', () => {
  let server: Server
  afterEach(() => new Promise((closed) => server.close(closed)))
  const answering = async (listener: RequestListener): Promise<string> => {
    server = createServer(listener)
    await new Promise<void>((listening) => server.listen(0, '127.0.0.1', listening))
    return `http://127.0.0.1:${(server.address() as AddressInfo).port}`
  }

  it('gets the line again, with the same key, whether it was busy, hung up, or its proxy did not reach it', async () => {
    const keys: unknown[] = []
    const to = await answering((request, response) => {
      keys.push(request.headers['idempotency-key'])
      if (keys.length === 1) response.writeHead(503, { 'Retry-After': '0' }).end('{}')
      else if (keys.length === 2) request.socket.destroy()
      else if (keys.length === 3) response.writeHead(502, { 'Retry-After': '0' }).end('<html>')
      else response.writeHead(201).end(JSON.stringify({ session: { id: 'a', version: 1 }, flags: [] }))
    })
    const { code, lines } = await push('{}\n', 'token', to)
    expect(code).toBe(0)
    expect(lines).toEqual([{ line: 1, outcome: 'accepted', sessionId: 'a', version: 1, holds: [] }])
    expect(keys).toHaveLength(4)
    expect(new Set(keys).size).toBe(1)
  })

  it('rejects the line where what answers is something else', async () => {
    const to = await answering((_request, response) => response.writeHead(418).end('<html>'))
    expect((await push('{}\n', 'token', to)).lines).toMatchObject([{ outcome: 'rejected', code: 'no_answer' }])
  })
})

describe('a command line that cannot be used', () => {
  it('is told so, with 2', async () => {
    const quiet = vi.spyOn(console, 'error').mockImplementation(() => undefined)
    expect(await run(['push', '--file', 'x'])).toBe(2)
    await writeFile(join(directory, 'token'), 'a')
    expect(await run(['push', '--file', 'x', '--token-file', join(directory, 'token'), '--url', 'ftp://a'])).toBe(2)
    expect(await run(['push', '--file', join(directory, 'none'), '--token-file', join(directory, 'token')])).toBe(1)
    quiet.mockRestore()
  })
})
