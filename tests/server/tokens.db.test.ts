import { createHmac, generateKeyPairSync } from 'node:crypto'
import { createServer, type RequestListener, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import {
  exportJWK,
  exportSPKI,
  generateKeyPair,
  importJWK,
  SignJWT,
  type JWTHeaderParameters,
  type JWTPayload,
} from 'jose'
import { v7 as uuidv7 } from 'uuid'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { IssuerConfig } from '../../src/config.ts'
import { makeTokenVerifier } from '../../src/server/verify-token.ts'
import { removeMember, withOwner } from '../../src/store/admin-store.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { AUDIENCE, freshClinic, freshTeam, ISSUER, makeTestService, type FreshClinic } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
beforeAll(async () => {
  clinic = await freshClinic(service)
})

const seconds = () => Math.floor(Date.now() / 1000)
const claims = (): JWTPayload => ({
  iss: ISSUER,
  aud: AUDIENCE,
  sub: clinic.subs.clinician,
  exp: seconds() + 3600,
  clinic: clinic.clinicId,
})
const HEADER: JWTHeaderParameters = { alg: 'ES256', typ: 'at+jwt', kid: 'k1' }

async function signed(payload: JWTPayload, header: Partial<JWTHeaderParameters> = {}): Promise<string> {
  return new SignJWT(payload).setProtectedHeader({ ...HEADER, ...header }).sign(service.signingKey)
}

const without = (name: string): JWTPayload =>
  Object.fromEntries(Object.entries(claims()).filter(([key]) => key !== name))
const part = (value: unknown) => Buffer.from(JSON.stringify(value)).toString('base64url')

async function lastSecurityEvent(): Promise<{ request_id: string; code: string; route: string | null }> {
  return withClient(service.database.adminUrl, async (client) => {
    const { rows } = await client.query<{ request_id: string; code: string; route: string | null }>(
      'select request_id, code, route from security_event order by at desc, slot desc limit 1',
    )
    return rows[0] ?? { request_id: '', code: 'none', route: null }
  })
}

const REFUSED: readonly (readonly [what: string, recorded: string, make: () => Promise<string>])[] = [
  ['alg none', 'no_bearer_token', async () => `${part({ ...HEADER, alg: 'none' })}.${part(claims())}.`],
  ['alg none with a signature', 'algorithm', async () => `${part({ ...HEADER, alg: 'none' })}.${part(claims())}.AAAA`],
  [
    'HS256 signed with the public key',
    'algorithm',
    async () => {
      const { keys } = JSON.parse(await service.publicKeys()) as { keys: Record<string, string>[] }
      const pem = await exportSPKI((await importJWK(keys[0] ?? {}, 'ES256')) as typeof service.signingKey)
      const head = `${part({ ...HEADER, alg: 'HS256' })}.${part(claims())}`
      return `${head}.${createHmac('sha256', pem).update(head).digest('base64url')}`
    },
  ],
  [
    'a key of someone else',
    'ERR_JWS_SIGNATURE_VERIFICATION_FAILED',
    async () => new SignJWT(claims()).setProtectedHeader(HEADER).sign((await generateKeyPair('ES256')).privateKey),
  ],
  [
    'another algorithm than the key has',
    'ERR_JWKS_NO_MATCHING_KEY',
    async () =>
      new SignJWT(claims())
        .setProtectedHeader({ ...HEADER, alg: 'RS256' })
        .sign(generateKeyPairSync('rsa', { modulusLength: 2048 }).privateKey),
  ],
  ['another audience', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed({ ...claims(), aud: 'somewhere-else' })],
  ['no audience', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed(without('aud'))],
  ['an issuer we do not know', 'unknown_issuer', () => signed({ ...claims(), iss: 'https://other.example' })],
  ['no issuer', 'no_issuer', () => signed(without('iss'))],
  ['no subject', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed(without('sub'))],
  ['an empty subject', 'claims', () => signed({ ...claims(), sub: '' })],
  ['the type of an identity token', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed(claims(), { typ: 'JWT' })],
  ['no type', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed(claims(), { typ: undefined as unknown as string })],
  ['an hour past its end', 'ERR_JWT_EXPIRED', () => signed({ ...claims(), exp: seconds() - 3600 })],
  ['an end in ten years', 'too_long_lived', () => signed({ ...claims(), exp: seconds() + 315_000_000 })],
  ['no end', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed(without('exp'))],
  [
    'an end that is no number',
    'ERR_JWT_CLAIM_VALIDATION_FAILED',
    () => signed({ ...claims(), exp: 'never' as unknown as number }),
  ],
  ['a beginning in an hour', 'ERR_JWT_CLAIM_VALIDATION_FAILED', () => signed({ ...claims(), nbf: seconds() + 3600 })],
  ['a key id that no key has', 'ERR_JWKS_NO_MATCHING_KEY', () => signed(claims(), { kid: 'k2' })],
  [
    'a critical extension',
    'key_pointer',
    async () => `${part({ ...HEADER, crit: ['x'], x: 1 })}.${part(claims())}.AAAA`,
  ],
  ['both clinic and team', 'clinic_or_team', () => signed({ ...claims(), team: uuidv7() })],
  ['neither clinic nor team', 'clinic_or_team', () => signed(without('clinic'))],
  ['a clinic that is no UUID', 'clinic_or_team', () => signed({ ...claims(), clinic: 'riverbend' })],
  ['a clinic that does not exist', 'not_a_member', () => signed({ ...claims(), clinic: uuidv7() })],
  ['a stranger', 'not_a_member', () => signed({ ...claims(), sub: `stranger-${uuidv7()}` })],
  ['a clinic as a team', 'not_a_member', () => signed({ ...without('clinic'), team: clinic.clinicId })],
  ['padding', 'no_bearer_token', async () => `${await signed(claims())}==`],
  ['standard base64', 'no_bearer_token', async () => (await signed(claims())).replace(/.$/, '+')],
  ['a second spelling of its last character', 'not_canonical', async () => respelt(await signed(claims()))],
  ['a space', 'no_bearer_token', async () => `${await signed(claims())} x`],
  ['four parts', 'no_bearer_token', async () => `${await signed(claims())}.AAAA`],
  ['parts that are no JSON', 'malformed', async () => 'AAAA.AAAA.AAAA'],
  ['more than 8 kB', 'no_bearer_token', () => signed({ ...claims(), note: 'x'.repeat(9_000) })],
]

/** The last character of a 64-byte signature carries four bits that decoders ignore. */
function respelt(token: string): string {
  const alphabet = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_'
  const last = alphabet.indexOf(token.at(-1) ?? '')
  return token.slice(0, -1) + (alphabet[last ^ 1] ?? '')
}

describe('a token that is refused', () => {
  it.each(REFUSED)('for %s', async (_what, recorded, make) => {
    const answer = await service.api(await make()).get('/v1/me')
    const { requestId, ...constant } = answer.body as Record<string, unknown>
    expect(answer.status).toBe(401)
    expect(constant).toEqual({
      type: '/problems/unauthenticated',
      title: 'A valid access token is needed',
      status: 401,
      code: 'unauthenticated',
      detail: 'A valid access token is needed.',
      retry: 'after_correction',
    })
    expect(answer.headers['www-authenticate']).toBe('Bearer')
    expect(await lastSecurityEvent()).toEqual({ request_id: requestId, code: recorded, route: '/v1/me' })
  })

  it('is not there at all', async () => {
    const answer = await service.api(null).get('/v1/me')
    expect(answer.status).toBe(401)
    expect(await lastSecurityEvent()).toMatchObject({ code: 'no_bearer_token' })
  })

  it('is refused before the body is read, so that a stranger cannot make us work', async () => {
    const answer = await service.api(null).post('/v1/subjects', null, { bytes: 'x'.repeat(200_000) })
    expect(answer.status).toBe(401)
  })

  it.each(['jku', 'x5u', 'jwk', 'x5c'])(
    'points at its own key with %s: no one is called to fetch it',
    async (pointer) => {
      const calls: string[] = []
      const thief = await generateKeyPair('ES256', { extractable: true })
      const key = { ...(await exportJWK(thief.publicKey)), kid: 'k1', alg: 'ES256' }
      const server = createServer((request, response) => {
        calls.push(request.url ?? '')
        response.end(JSON.stringify({ keys: [key] }))
      })
      await new Promise<void>((settle) => server.listen(0, '127.0.0.1', settle))
      const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/jwks`
      const value = { jku: url, x5u: url, jwk: key, x5c: ['AAAA'] }[pointer]
      const token = await new SignJWT(claims())
        .setProtectedHeader({ ...HEADER, [pointer]: value })
        .sign(thief.privateKey)
      const answer = await service.api(token).get('/v1/me')
      await new Promise((settle) => server.close(settle))
      expect(answer.status).toBe(401)
      expect(await lastSecurityEvent()).toMatchObject({ code: 'key_pointer' })
      expect(calls).toEqual([])
    },
  )

  it('belongs to a member who was removed a moment ago', async () => {
    const own = await freshClinic(service)
    const api = service.api(own.tokens.assistant)
    expect((await api.get('/v1/me')).status).toBe(200)
    await withOwner(service.database.adminUrl, (client) =>
      removeMember(client, { clinicId: own.clinicId, issuer: ISSUER, sub: own.subs.assistant }),
    )
    expect((await api.get('/v1/me')).status).toBe(401)
    expect((await service.api(own.tokens.owner).get('/v1/me')).status).toBe(200)
  })

  it('comes from an issuer that the service knows and the clinic does not list', async () => {
    const own = await freshClinic(service)
    await withClient(service.database.adminUrl, (client) =>
      client.query('delete from clinic_issuer where clinic_id = $1', [own.clinicId]),
    )
    expect((await service.api(own.tokens.owner).get('/v1/me')).status).toBe(401)
    expect(await lastSecurityEvent()).toMatchObject({ code: 'not_a_member' })
  })

  it('says the same about a member of another clinic as about a clinic that does not exist', async () => {
    const other = await freshClinic(service)
    const mask = (text: string) => text.replace(/"requestId":"[^"]+"/, '')
    const [foreign, absent] = await Promise.all(
      [other.clinicId, uuidv7()].map(async (id) =>
        service.api(await signed({ ...claims(), clinic: id })).get('/v1/me'),
      ),
    )
    expect(mask(foreign?.text ?? '')).toBe(mask(absent?.text ?? ' '))
  })
})

describe('while the keys of its issuer cannot be had', () => {
  const verifying = (issuer: Omit<IssuerConfig, 'issuer'>) =>
    makeTokenVerifier([{ issuer: ISSUER, ...issuer }], AUDIENCE)
  const answering = (handler: RequestListener): Promise<string> =>
    new Promise((settle) => {
      const server = createServer(handler).listen(0, '127.0.0.1', () => {
        settle(`http://127.0.0.1:${(server.address() as AddressInfo).port}/jwks`)
      })
      servers.push(server)
    })
  const servers: Server[] = []
  afterAll(() => servers.forEach((server) => server.close()))

  it.each<[what: string, jwksUrl: () => Promise<string>]>([
    ['nobody listens there', () => Promise.resolve('http://127.0.0.1:1/jwks')],
    ['it answers with an error', () => answering((_request, response) => response.writeHead(502).end('bad gateway'))],
    ['it answers with something else', () => answering((_request, response) => response.end('<html>'))],
    ['it answers with no keys', () => answering((_request, response) => response.end('{"keys":{}}'))],
  ])('a token is neither accepted nor called wrong: 503 of its own, when %s', async (_what, jwksUrl) => {
    const other = await makeTestService(service.database, { verify: verifying({ jwksUrl: await jwksUrl() }) })
    const answer = await other.api(await signed(claims())).get('/v1/me')
    expect(answer.status).toBe(503)
    expect(answer.body).toMatchObject({ code: 'issuer_unavailable', retry: 'after_delay' })
    expect(answer.body.detail).toBe('The keys of the token issuer cannot be had, so no token of it can be checked.')
    expect(answer.headers['retry-after']).toBe('5')
    expect(answer.text).not.toMatch(/127\.0\.0\.1|database/)
  })

  it('the same goes for a file of keys that is not there', async () => {
    const other = await makeTestService(service.database, { verify: verifying({ jwksFile: '/nowhere/jwks.json' }) })
    const answer = await other.api(await signed(claims())).get('/v1/me')
    expect([answer.status, answer.body.code]).toEqual([503, 'issuer_unavailable'])
  })

  it('a key that the issuer does not have is still a token that is wrong', async () => {
    const keys = await service.publicKeys()
    const jwksUrl = await answering((_request, response) => response.end(keys))
    const other = await makeTestService(service.database, { verify: verifying({ jwksUrl }) })
    expect((await other.api(await signed(claims(), { kid: 'k2' })).get('/v1/me')).status).toBe(401)
    expect((await other.api(await signed(claims())).get('/v1/me')).status).toBe(200)
  })
})

describe('a token that is accepted', () => {
  it('of a team is refused by every clinic route with 403', async () => {
    const team = await freshTeam(service)
    const answer = await service.api(team.token).get('/v1/subjects')
    expect(answer.status).toBe(403)
    expect(answer.body).toMatchObject({ code: 'forbidden' })
  })

  it('may be spelt "Bearer" only', async () => {
    const token = await signed(claims())
    const spelt = (text: string) => service.api(null).get('/v1/me', { headers: { authorization: text } })
    expect((await spelt(`Bearer ${token}`)).status).toBe(200)
    expect((await spelt(`bearer ${token}`)).status).toBe(401)
    expect((await spelt(`Basic ${token}`)).status).toBe(401)
  })
})
