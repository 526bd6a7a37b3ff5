import { connect, type AddressInfo } from 'node:net'
import { gzipSync } from 'node:zlib'
import { beforeAll, describe, expect, it } from 'vitest'
import { SLOW_CLIENT_LIMITS } from '../../src/server/http.ts'
import { TokenRefused } from '../../src/server/verify-token.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../harness/clinic.ts'
import { subjectBody } from '../harness/samples.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const service = await makeTestService(database)
await service.app.listen({ host: '127.0.0.1', port: 0 })
let clinic: FreshClinic
let api: Api
beforeAll(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
})

/** What a bare socket gets back until the server ends it. */
async function raw(bytes: string, app = service.app): Promise<string> {
  return new Promise((settle, fail) => {
    let answer = ''
    const socket = connect((app.server.address() as AddressInfo).port, '127.0.0.1', () => socket.write(bytes))
    socket.setEncoding('utf8').on('data', (chunk: string) => (answer += chunk))
    socket.on('close', () => settle(answer)).on('error', fail)
  })
}

const request = (head: readonly string[], body = '') =>
  [...head, 'Connection: close', `Content-Length: ${Buffer.byteLength(body)}`, '', body].join('\r\n')
const json = (answer: string) => JSON.parse(answer.slice(answer.indexOf('\r\n\r\n') + 4)) as Record<string, unknown>
const stored = async () => ((await api.get('/v1/subjects')).body.items as unknown[]).length

describe('a body', () => {
  it('of 64 kB is too large, and is told so with the limit', async () => {
    const answer = await api.post('/v1/subjects', { ...subjectBody(), notes: 'x'.repeat(65_536) })
    expect(answer.status).toBe(413)
    expect(answer.body).toMatchObject({ code: 'too_large', limitBytes: 65_536 })
  })

  it.each(['gzip', 'br', 'zstd', 'identity', 'gzip, gzip'])(
    'with Content-Encoding %s is refused unread',
    async (encoding) => {
      const bytes = gzipSync(JSON.stringify(subjectBody()))
      const answer = await api.post('/v1/subjects', null, { bytes, headers: { 'content-encoding': encoding } })
      expect(answer.status).toBe(415)
      expect(answer.body.code).toBe('unsupported_media_type')
    },
  )

  it.each([
    'text/plain',
    'application/x-www-form-urlencoded',
    'multipart/form-data; boundary=x',
    'application/xml',
    'application/jsonx',
    'application/json5',
    'application/json, text/plain',
    'text/plain, application/json',
    'application/json\u00a0',
    'application /json',
    '*/*',
    'json',
    'application/json; charset=utf-16',
    'application/json;charset=latin1',
    'application/json; x="; y',
    '',
  ])('of the type "%s" never gets a 2xx and is never stored', async (type) => {
    const before = await stored()
    const answer = await api.post('/v1/subjects', subjectBody('RB-type'), { headers: { 'content-type': type } })
    expect(answer.status).toBe(415)
    expect(answer.headers['content-type']).toBe('application/problem+json')
    expect(await stored()).toBe(before)
  })

  it.each(['application/json', 'application/json; charset=utf-8', 'Application/JSON;charset="UTF-8"'])(
    'of the type %s is read',
    async (type) => {
      const answer = await api.post('/v1/subjects', { sex: 'unknown' }, { headers: { 'content-type': type } })
      expect(answer.status).toBe(201)
    },
  )

  it.each([
    ['no JSON', '{"sex":', 'invalid_json'],
    ['nothing', '', 'invalid_json'],
    ['an array', '[]', 'wrong_type'],
    ['a comment', '{/* */"sex":"female"}', 'invalid_json'],
    ['a key twice', '{"sex":"female","sex":"male"}', 'duplicate_key'],
    ['a key twice, spelt differently', '{"sex":"female","\\u0073ex":"male"}', 'duplicate_key'],
    ['a prototype', '{"sex":"female","__proto__":{"a":1}}', 'forbidden_key'],
    ['1e999', '{"sex":"female","height":{"value":1e999,"unit":"m"}}', 'out_of_range'],
    ['NaN', '{"sex":"female","height":{"value":NaN,"unit":"m"}}', 'invalid_json'],
    ['a NUL', '{"sex":"female","name":"a\\u0000b"}', 'nul_character'],
    ['half a character', '{"sex":"female","name":"\\ud800"}', 'lone_surrogate'],
    ['33 arrays in each other', `${'['.repeat(33)}${']'.repeat(33)}`, 'too_deep'],
    ['10,000 arrays in each other', '['.repeat(10_000), 'too_deep'],
  ])('that is %s is a 400 without a word of ours about how', async (_what, text, code) => {
    const answer = await api.post('/v1/subjects', null, { bytes: text })
    expect(answer.status).toBe(400)
    expect(answer.body.errors[0].code).toBe(code)
    expect(answer.text).not.toMatch(/node_modules|\.ts\b|at \/|SyntaxError|JSON\.parse|zod/i)
  })

  it('that is not UTF-8 is a 400', async () => {
    const bytes = Buffer.concat([Buffer.from('{"sex":"female","name":"'), Buffer.from([0xc3, 0x28]), Buffer.from('"}')])
    const answer = await api.post('/v1/subjects', null, { bytes })
    expect(answer.body.errors).toMatchObject([{ code: 'invalid_utf8' }])
  })
})

describe('a request', () => {
  it('with a header twice that may stand once is a 400 that says which', async () => {
    const token = clinic.tokens.clinician
    for (const [name, ...lines] of [
      ['authorization', `Authorization: Bearer ${token}`, `Authorization: Bearer ${token}`],
      ['authorization', `Authorization: Bearer ${token}`, 'authorization: Bearer x.y.z'],
      ['idempotency-key', 'Idempotency-Key: a', 'Idempotency-Key: b'],
      ['if-match', 'If-Match: "1"', 'If-Match: "2"'],
      ['purpose', 'Purpose: a', 'Purpose: b'],
    ]) {
      const answer = await raw(request(['GET /v1/me HTTP/1.1', 'Host: a', ...lines]))
      expect(answer).toMatch(/^HTTP\/1\.1 400 /)
      expect(json(answer)).toMatchObject({ code: 'malformed_request', detail: `The header ${name} is sent twice.` })
    }
  })

  it('with two hosts is a 400', async () => {
    expect(await raw(request(['GET /livez HTTP/1.1', 'Host: a', 'Host: b']))).toMatch(/^HTTP\/1\.1 400 /)
  })

  it.each([
    ['GET /v1/%zz HTTP/1.1', 400],
    ['GET /v1/subjects/%00 HTTP/1.1', 401],
    ['GET /../../etc/passwd HTTP/1.1', 404],
    ['GET //v1/me HTTP/1.1', 404],
    ['BREW /v1/me HTTP/1.1', 400],
    ['GET /v1/me HTTP/9.9', 400],
    ['nonsense', 400],
  ])('"%s" is answered %i with a problem document', async (line, status) => {
    const answer = await raw(request([line, 'Host: a']))
    expect(answer).toMatch(new RegExp(`^HTTP/1\\.1 ${status} `))
    expect(answer).toContain('application/problem+json')
    expect(json(answer)).toMatchObject({ status })
    expect(answer).not.toMatch(/zz|passwd|node_modules|HPE_/)
  })

  it('with more than 16 kB of headers is a 431', async () => {
    const answer = await raw(request(['GET /livez HTTP/1.1', 'Host: a', `X-Long: ${'x'.repeat(20_000)}`]))
    expect(answer).toMatch(/^HTTP\/1\.1 431 /)
    expect(json(answer)).toMatchObject({ code: 'headers_too_large' })
  })

  it('of a method that the address does not take is a 405 that says which it takes', async () => {
    for (const [method, url, allowed] of [
      ['DELETE', '/v1/subjects', 'GET, POST'],
      ['PATCH', '/v1/subjects/01a1e991-aa00-78b4-a652-e44da7f29e26', 'GET, PUT'],
      ['POST', '/v1/me?x=1', 'GET'],
    ] as const) {
      const answer = await service.app.inject({ method, url })
      expect(answer.statusCode).toBe(405)
      expect(answer.headers['allow']).toBe(allowed)
      expect(answer.json()).toMatchObject({ code: 'method_not_allowed' })
    }
  })

  it('to an address that is not there is a 404 that does not repeat it', async () => {
    const answer = await api.get('/v1/canary-address')
    expect(answer.status).toBe(404)
    expect(answer.text).not.toContain('canary')
  })

  it('gets its id back in header and problem, whatever id it brought along', async () => {
    const answer = await api.get('/v1/nowhere', { headers: { 'request-id': 'mine', 'x-request-id': 'mine' } })
    expect(answer.headers['x-request-id']).toMatch(/^[0-9a-f-]{36}$/)
    expect(answer.body.requestId).toBe(answer.headers['x-request-id'])
  })

  it('is answered with headers that keep it out of caches, frames and guesses', async () => {
    for (const url of ['/v1/me', '/livez', '/v1/nowhere']) {
      const { headers } = await api.get(url)
      expect(headers).toMatchObject({ 'cache-control': 'no-store', 'x-content-type-options': 'nosniff' })
      expect(headers['content-security-policy']).toBe("default-src 'none';frame-ancestors 'none'")
      expect(headers).not.toHaveProperty('x-powered-by')
      expect(headers).not.toHaveProperty('server')
    }
  })
})

describe('a slow client', () => {
  it('is cut after at most 15 s of headers and 30 s of body, as the service is configured', () => {
    expect(service.app.server.headersTimeout).toBe(SLOW_CLIENT_LIMITS.headersMs)
    expect(service.app.server.requestTimeout).toBe(SLOW_CLIENT_LIMITS.requestMs)
    expect(SLOW_CLIENT_LIMITS.headersMs + SLOW_CLIENT_LIMITS.checkEveryMs).toBeLessThanOrEqual(15_000)
    expect(SLOW_CLIENT_LIMITS.requestMs + SLOW_CLIENT_LIMITS.checkEveryMs).toBeLessThanOrEqual(30_000)
  })

  it('is told so with a problem document, be it slow with headers or with its body', async () => {
    const slowClientLimits = { headersMs: 150, requestMs: 300, checkEveryMs: 50 }
    const hasty = await makeTestService(database, { http: { logLevel: 'silent', slowClientLimits } })
    await hasty.app.listen({ host: '127.0.0.1', port: 0 })
    const headers = await raw('GET /livez HTTP/1.1\r\nHost: a\r\nX-Slow', hasty.app)
    const head = ['POST /v1/subjects HTTP/1.1', 'Host: a', `Authorization: Bearer ${clinic.tokens.clinician}`]
    const body = await raw([...head, 'Content-Length: 100', '', '{"sex"'].join('\r\n'), hasty.app)
    for (const answer of [headers, body]) {
      expect(answer).toMatch(/^HTTP\/1\.1 4\d\d /)
      expect(answer).toContain('application/problem+json')
    }
    expect(json(headers)).toMatchObject({ status: 408, code: 'request_too_slow', retry: 'same_request' })
  })
})

describe('closing', () => {
  it('finishes what is in flight and does not wait for connections that are only kept alive', async () => {
    let release = (): void => {}
    const held = new Promise<void>((settle) => (release = settle))
    let arrive = (): void => {}
    const inFlight = new Promise<void>((settle) => (arrive = settle))
    const verify = async (): Promise<never> => {
      arrive()
      await held
      throw new TokenRefused('held back, then refused')
    }
    const { app } = await makeTestService(database, { verify })
    await app.listen({ host: '127.0.0.1', port: 0 })
    const { port } = app.server.address() as AddressInfo
    const idle = connect(port, '127.0.0.1', () => idle.write('GET /livez HTTP/1.1\r\nHost: a\r\n\r\n'))
    await new Promise((settle) => idle.once('data', settle))
    const idleEnded = new Promise((settle) => idle.once('close', settle).resume())

    const answer = fetch(`http://127.0.0.1:${port}/v1/me`)
    await inFlight
    const closed = app.close()
    await idleEnded
    release()
    expect((await answer).status).toBe(401)
    expect((await answer).headers.get('connection')).toBe('close')
    await closed
    await expect(fetch(`http://127.0.0.1:${port}/livez`)).rejects.toThrow()
  })
})
