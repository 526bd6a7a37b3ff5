/** A test service that listens, and the two clients of its subscriptions: one from the registry, one that says what it likes. */
import type { AddressInfo } from 'node:net'
import { createClient, type Client } from 'graphql-ws'
import { afterAll, vi } from 'vitest'
import WebSocket from 'ws'
import type { AppDeps } from '../../../src/app.ts'
import { openAnnouncements } from '../../../src/tenancy/announcements.ts'
import { makeTestService, type TestService } from '../../harness/clinic.ts'
import type { TestDatabase } from '../../harness/test-database.ts'

export interface SocketService extends TestService {
  readonly url: string
  /** How often somebody began to follow what is announced. */
  readonly follows: () => number
}

export async function listeningService(
  database: TestDatabase,
  overrides: Partial<AppDeps> = {},
): Promise<SocketService> {
  const real = openAnnouncements(database.appUrl)
  let follows = 0
  const announcements: AppDeps['announcements'] = {
    ...real,
    follow: async (follower) => {
      const stop = await real.follow(follower)
      follows++
      return stop
    },
  }
  const service = await makeTestService(database, { announcements, ...overrides })
  afterAll(() => real.close())
  await service.app.listen({ port: 0, host: '127.0.0.1' })
  const url = `ws://127.0.0.1:${(service.app.server.address() as AddressInfo).port}/graphql`
  return { ...service, url, follows: () => follows }
}

export interface Followed {
  readonly client: Client
  readonly events: { data?: any; errors?: readonly any[] | undefined }[] // eslint-disable-line @typescript-eslint/no-explicit-any
  readonly ended: () => unknown
  readonly closed: () => { code: number; reason: string } | undefined
}

/** Resolves when it is told of everything from then on, unless `begun` is false. */
export async function follow(
  service: SocketService,
  token: string,
  query: string,
  options: { variables?: Record<string, unknown>; purpose?: string; begun?: boolean } = {},
): Promise<Followed> {
  const before = service.follows()
  const events: Followed['events'] = []
  let ended: unknown
  let closed: { code: number; reason: string } | undefined
  const client = createClient({
    url: service.url,
    webSocketImpl: WebSocket,
    retryAttempts: 0,
    connectionParams: { authorization: `Bearer ${token}`, ...(options.purpose === undefined ? {} : { purpose: options.purpose }) }, // prettier-ignore
    on: { closed: (event) => void (closed = event as { code: number; reason: string }) },
  })
  client.subscribe(
    { query, variables: options.variables ?? {} },
    {
      next: (value) => void events.push(value as Followed['events'][number]),
      error: (error) => void (ended = error),
      complete: () => void (ended = 'complete'),
    },
  )
  afterAll(() => client.dispose())
  if (options.begun !== false) await until(() => service.follows() > before || ended !== undefined)
  return { client, events, ended: () => ended, closed: () => closed }
}

export const until = (holds: () => boolean, timeout = 15_000): Promise<void> =>
  vi.waitFor(() => {
    if (!holds()) throw new Error('not yet')
  }, { timeout, interval: 20 }) // prettier-ignore

export interface RawSocket {
  readonly socket: WebSocket
  readonly say: (message: unknown) => void
  readonly heard: any[] // eslint-disable-line @typescript-eslint/no-explicit-any
  readonly closed: Promise<{ code: number; reason: string }>
}

export async function rawSocket(
  url: string,
  { headers = {}, protocol = 'graphql-transport-ws' }: { headers?: Record<string, string>; protocol?: string } = {},
): Promise<RawSocket> {
  const socket = new WebSocket(url, protocol, { headers })
  const heard: unknown[] = []
  socket.on('message', (data) => heard.push(JSON.parse((data as Buffer).toString())))
  const closed = new Promise<{ code: number; reason: string }>((resolve) =>
    socket.once('close', (code, reason) => resolve({ code, reason: reason.toString() })),
  )
  socket.on('error', () => undefined)
  await new Promise<void>((resolve, reject) => socket.once('open', resolve).once('error', reject))
  afterAll(() => socket.terminate())
  return { socket, heard, closed, say: (message) => socket.send(typeof message === 'string' ? message : JSON.stringify(message)) } // prettier-ignore
}

/** Known to the service. */
export async function initialised(url: string, token: string): Promise<RawSocket> {
  const raw = await rawSocket(url)
  raw.say({ type: 'connection_init', payload: { authorization: `Bearer ${token}` } })
  await until(() => raw.heard.length > 0 || raw.socket.readyState !== raw.socket.OPEN)
  return raw
}
