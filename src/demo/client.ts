/** A client as a clinic's own would be: an address, a token, documents. Everything the demo shows came through here. */
import { randomUUID } from 'node:crypto'
import { setTimeout as sleep } from 'node:timers/promises'

const TRIES = 10

export interface Answer<T> {
  readonly status: number
  readonly body: T
  readonly etag: string | null
  readonly replayed: boolean
  readonly sentBytes: number
  readonly milliseconds: number
}

export interface Client {
  /** Throws unless it is answered 200. */
  readonly get: <T>(path: string) => Promise<T>
  /** Throws unless it is answered with the expected status: a demo that goes wrong says where. */
  readonly post: <T>(path: string, document: unknown, expected: number, options?: PostOptions) => Promise<Answer<T>>
  readonly put: <T>(path: string, document: unknown, ifMatch: string) => Promise<Answer<T>>
  /** Whatever the answer is. */
  readonly ask: (path: string) => Promise<Answer<unknown>>
}

interface PostOptions {
  /** The same for a retry. */
  readonly key?: string
  readonly ifMatch?: string
}

export function clientOf(url: string, token: string): Client {
  const send = async (
    method: string,
    path: string,
    document?: unknown,
    headers: Readonly<Record<string, string>> = {},
  ): Promise<Answer<unknown>> => {
    const body = document === undefined ? null : JSON.stringify(document)
    const from = performance.now()
    const request = {
      method,
      body,
      headers: {
        Authorization: `Bearer ${token}`,
        ...(body === null ? {} : { 'Content-Type': 'application/json' }),
        ...headers,
      },
    }
    const response = await fetchPatiently(`${url}${path}`, request)
    return {
      status: response.status,
      body: await response.json(),
      etag: response.headers.get('etag'),
      replayed: response.headers.get('idempotency-replayed') === 'true',
      sentBytes: body === null ? 0 : Buffer.byteLength(body),
      milliseconds: performance.now() - from,
    }
  }
  const expect = (answer: Answer<unknown>, status: number, what: string): Answer<unknown> => {
    if (answer.status === status) return answer
    throw new Error(`${what}: ${status} was expected, ${answer.status} came: ${JSON.stringify(answer.body)}`)
  }
  return {
    get: async <T>(path: string) => expect(await send('GET', path), 200, `GET ${path}`).body as T,
    post: async <T>(path: string, document: unknown, expected: number, options: PostOptions = {}) => {
      const { key = randomUUID(), ifMatch } = options
      const condition: Record<string, string> = ifMatch === undefined ? {} : { 'If-Match': ifMatch }
      const answer = await send('POST', path, document, { 'Idempotency-Key': key, ...condition })
      return expect(answer, expected, `POST ${path}`) as Answer<T>
    },
    put: async <T>(path: string, document: unknown, ifMatch: string) =>
      expect(await send('PUT', path, document, { 'If-Match': ifMatch }), 200, `PUT ${path}`) as Answer<T>,
    ask: (path) => send('GET', path),
  }
}

/** Busy is no answer: the same again after the wait that was asked for. Its key keeps a retried POST to one effect. */
async function fetchPatiently(url: string, request: RequestInit): Promise<Response> {
  for (let tries = 1; ; tries += 1) {
    const response = await fetch(url, request)
    if (response.status !== 503 || tries === TRIES) return response
    await response.arrayBuffer()
    await sleep(1000 * Number(response.headers.get('retry-after') ?? 1))
  }
}
