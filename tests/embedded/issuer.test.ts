import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { decodeJwt, decodeProtectedHeader } from 'jose'
import { v7 as uuidv7 } from 'uuid'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { EMBEDDED_ISSUER, openEmbeddedIssuer, type EmbeddedIssuerOptions } from '../../src/embedded/issuer.ts'
import { serveIssuer } from '../../src/embedded/serve-issuer.ts'
import { makeTokenVerifier } from '../../src/server/verify-token.ts'

let directory: string
beforeEach(() => {
  directory = mkdtempSync(join(tmpdir(), 'limb-ledger-test-'))
})
afterEach(() => rmSync(directory, { recursive: true, force: true }))

const open = (change: Partial<EmbeddedIssuerOptions> = {}) =>
  openEmbeddedIssuer({ directory, audience: 'limb-ledger', environment: 'test', ...change })
const clinic = uuidv7()

describe('the embedded issuer', () => {
  it('makes tokens that the service accepts, for a clinic or a team', async () => {
    const issuer = await open()
    const verify = makeTokenVerifier([issuer.config], 'limb-ledger')
    const inClinic = await verify(`Bearer ${await issuer.mint({ sub: 'ann', clinic, client: 'demo' })}`)
    expect(inClinic).toMatchObject({
      issuer: EMBEDDED_ISSUER,
      sub: 'ann',
      clinicId: clinic,
      teamId: null,
      client: 'demo',
    })
    const inTeam = await verify(`Bearer ${await issuer.mint({ sub: 'ann', team: clinic })}`)
    expect(inTeam).toMatchObject({ clinicId: null, teamId: clinic, client: null })
  })

  it('says in each token what it is, for whom, and how long: up to 12 hours', async () => {
    const token = await (await open()).mint({ sub: 'ann', clinic })
    expect(decodeProtectedHeader(token)).toMatchObject({ alg: 'ES256', typ: 'at+jwt' })
    const { iss, aud, sub, iat = 0, exp = 0 } = decodeJwt(token)
    expect({ iss, aud, sub }).toEqual({ iss: EMBEDDED_ISSUER, aud: 'limb-ledger', sub: 'ann' })
    expect(exp - iat).toBe(12 * 3600)
  })

  it.each([12 * 3600 + 1, 0, -1, NaN, Infinity])('refuses a lifetime of %d s', async (lifetimeS) => {
    const issuer = await open()
    await expect(issuer.mint({ sub: 'ann', clinic, lifetimeS })).rejects.toThrow('up to 12 hours')
  })

  it('refuses a token for both, or for neither', async () => {
    const issuer = await open()
    await expect(issuer.mint({ sub: 'ann' })).rejects.toThrow('one clinic or one team')
    await expect(issuer.mint({ sub: 'ann', clinic, team: clinic })).rejects.toThrow('one clinic or one team')
  })

  it('is refused in production, before it writes anything', async () => {
    await expect(open({ environment: 'production', directory: join(directory, 'new') })).rejects.toThrow(
      'does not run in production',
    )
    expect(() => statSync(join(directory, 'new'))).toThrow('ENOENT')
  })

  it('keeps its key between runs, readable by its owner alone, and publishes no private part', async () => {
    const token = await (await open()).mint({ sub: 'ann', clinic })
    const again = await open()
    await expect(makeTokenVerifier([again.config], 'limb-ledger')(`Bearer ${token}`)).resolves.toMatchObject({
      sub: 'ann',
    })
    expect(statSync(join(directory, 'issuer-key.json')).mode & 0o777).toBe(0o600)
    const { keys } = JSON.parse(await again.publicKeys()) as { keys: Record<string, string>[] }
    expect(Object.keys(keys[0] ?? {}).sort()).toEqual(['alg', 'crv', 'kid', 'kty', 'use', 'x', 'y'])
  })

  it('agrees with itself when two start at once', async () => {
    const issuers = await Promise.all([open(), open(), open()])
    const tokens = await Promise.all(issuers.map((issuer) => issuer.mint({ sub: 'ann', clinic })))
    expect(new Set(tokens.map((token) => decodeProtectedHeader(token).kid)).size).toBe(1)
    const verify = makeTokenVerifier([(await open()).config], 'limb-ledger')
    for (const token of tokens) await expect(verify(`Bearer ${token}`)).resolves.toMatchObject({ sub: 'ann' })
  })

  it('says in words that its key cannot be read', async () => {
    writeFileSync(join(directory, 'issuer-key.json'), 'half a f')
    await expect(open()).rejects.toThrow('Move it away to make a new one')
  })

  it('serves its public keys over HTTP, and nothing else', async () => {
    const issuer = await open()
    const server = await serveIssuer(issuer, { host: '127.0.0.1', port: 0 })
    const base = `http://127.0.0.1:${(server.address() as AddressInfo).port}`
    const verify = makeTokenVerifier([{ issuer: EMBEDDED_ISSUER, jwksUrl: `${base}/jwks.json` }], 'limb-ledger')
    await expect(verify(`Bearer ${await issuer.mint({ sub: 'ann', clinic })}`)).resolves.toMatchObject({ sub: 'ann' })
    for (const [path, method] of [
      ['/', 'GET'],
      ['/issuer-key.json', 'GET'],
      ['/jwks.json', 'POST'],
    ] as const)
      expect((await fetch(base + path, { method })).status).toBe(404)
    server.closeAllConnections()
    await new Promise((settle) => server.close(settle))
  })
})
