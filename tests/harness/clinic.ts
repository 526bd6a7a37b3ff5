/**
 * The real service on a test database, and fresh clinics in it:
 *
 *   const service = await makeTestService(await testDatabase())
 *   const clinic = await freshClinic(service)
 *   const answer = await service.api(clinic.tokens.clinician).get('/v1/subjects')
 */
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import type { FastifyInstance } from 'fastify'
import { exportJWK, generateKeyPair, SignJWT, type CryptoKey, type JWTPayload } from 'jose'
import { v7 as uuidv7 } from 'uuid'
import { afterAll } from 'vitest'
import { buildApp, type AppDeps } from '../../src/app.ts'
import { makeKeyRingText, readKeyRing } from '../../src/ledger/subject-keys.ts'
import { makeReportKeysText, openReportKeys } from '../../src/application/reports/report-keys.ts'
import { createPreparationPool, type PreparationPool } from '../../src/application/prepare-session/pool.ts'
import { makeTokenVerifier } from '../../src/server/verify-token.ts'
import { addMember, addTeamReader, createClinic, createTeam, withOwner } from '../../src/store/admin-store.ts'
import { CLINIC_ROLES, type ClinicRole } from '../../src/tenancy/actor.ts'
import { openAnnouncements } from '../../src/tenancy/announcements.ts'
import { forTeamsOnly, openDatabase, type Database } from '../../src/tenancy/database.ts'
import { holdAnswersAgainstTheirDescription, type ExpectedFaults } from './described-answers.ts'
import type { TestDatabase } from './test-database.ts'

export const ISSUER = 'https://issuer.test.example'
export const AUDIENCE = 'limb-ledger'

export interface Answer<T = unknown> {
  readonly status: number
  readonly headers: Readonly<Record<string, string | undefined>>
  readonly body: T
  readonly text: string
}

interface SendOptions {
  readonly headers?: Readonly<Record<string, string>>
  /** The Idempotency-Key of a POST; a new one when absent, none when null. */
  readonly key?: string | null
  /** Instead of the JSON of a body: these bytes. */
  readonly bytes?: Uint8Array | string
}

export interface Api {
  get<T = any>(url: string, options?: SendOptions): Promise<Answer<T>> // eslint-disable-line @typescript-eslint/no-explicit-any
  post<T = any>(url: string, body: unknown, options?: SendOptions): Promise<Answer<T>> // eslint-disable-line @typescript-eslint/no-explicit-any
  put<T = any>(url: string, body: unknown, ifMatch: string | null, options?: SendOptions): Promise<Answer<T>> // eslint-disable-line @typescript-eslint/no-explicit-any
}

export interface TestService {
  readonly app: FastifyInstance
  readonly db: Database
  readonly database: TestDatabase
  readonly signingKey: CryptoKey
  /** The key set that the service verifies with, as text. */
  readonly publicKeys: () => Promise<string>
  /** A client with this token; null: with none. */
  readonly api: (token: string | null) => Api
  readonly mint: (claims: JWTPayload & { sub: string }) => Promise<string>
  /** Every byte the service has logged so far. */
  readonly logged: () => string
}

export async function makeTestService(
  database: TestDatabase,
  overrides: Partial<AppDeps> = {},
  expected: ExpectedFaults = {},
): Promise<TestService> {
  const directory = await mkdtemp(join(tmpdir(), 'limb-ledger-issuer-'))
  const { publicKey, privateKey } = await generateKeyPair('ES256', { extractable: true })
  const jwksFile = join(directory, 'jwks.json')
  await writeFile(
    jwksFile,
    JSON.stringify({ keys: [{ ...(await exportJWK(publicKey)), kid: 'k1', alg: 'ES256', use: 'sig' }] }),
  )
  const logged: Buffer[] = []
  const logStream = new PassThrough().on('data', (chunk: Buffer) => logged.push(chunk))
  // A machine busy with other tests may take a while to open a connection.
  const db = openDatabase(database.appUrl, { poolSize: 5, maxWaitMs: 10_000 })
  const teamDb = forTeamsOnly(openDatabase(database.teamUrl, { poolSize: 3, maxWaitMs: 10_000 }))
  const pool = poolOnDemand()
  const announcements = openAnnouncements(database.appUrl)
  const app = await buildApp({
    db,
    pool,
    teamDb,
    reportKeys: openReportKeys(makeReportKeysText()),
    verify: makeTokenVerifier([{ issuer: ISSUER, jwksFile }], AUDIENCE),
    clock: () => new Date(),
    ledger: null,
    subjectKeys: readKeyRing(makeKeyRingText()),
    announcements,
    graphql: { introspection: true, persisted: null, explorer: null },
    // A test's process compiles its own files as well, and that is not load.
    http: { logLevel: 'info', logStream, maxEventLoopDelayMs: 0 },
    ...overrides,
  })
  holdAnswersAgainstTheirDescription(app, expected)
  await app.ready()
  afterAll(async () => {
    await app.close()
    await announcements.close()
    await pool.close()
    await db.close()
    await teamDb.close()
    await rm(directory, { recursive: true, force: true })
  })
  return {
    app,
    db,
    database,
    signingKey: privateKey,
    publicKeys: () => readFile(jwksFile, 'utf8'),
    api: (token) => apiOf(app, token),
    mint: (claims) =>
      new SignJWT({ iss: ISSUER, aud: AUDIENCE, exp: Math.floor(Date.now() / 1000) + 3600, ...claims })
        .setProtectedHeader({ alg: 'ES256', typ: 'at+jwt', kid: 'k1' })
        .sign(privateKey),
    logged: () => Buffer.concat(logged).toString('utf8'),
  }
}

export interface FreshClinic {
  readonly clinicId: string
  readonly name: string
  readonly principals: Readonly<Record<ClinicRole, string>>
  /** `sub` of each member's token. */
  readonly subs: Readonly<Record<ClinicRole, string>>
  readonly tokens: Readonly<Record<ClinicRole, string>>
}

/** A clinic that no other test knows, with one member of each role; the clinician holds a licence. */
export async function freshClinic(service: TestService, timeZone = 'Europe/Zurich'): Promise<FreshClinic> {
  const name = `Clinic ${uuidv7().slice(-6)}`
  const subs = {} as Record<ClinicRole, string>
  const principals = {} as Record<ClinicRole, string>
  const tokens = {} as Record<ClinicRole, string>
  const clinicId = await withOwner(service.database.adminUrl, async (client) => {
    const id = await createClinic(client, { name, timeZone, issuers: [ISSUER] })
    for (const role of CLINIC_ROLES) {
      subs[role] = `${role}-${uuidv7()}`
      principals[role] = await addMember(client, {
        clinicId: id,
        issuer: ISSUER,
        sub: subs[role],
        role,
        displayName: `Member, ${role}`,
        licence: role === 'clinician' ? 'LIC-0001' : undefined,
        identifiers: [{ system: 'https://clinic.example/staff', value: role }],
      })
      tokens[role] = await service.mint({ sub: subs[role], clinic: id })
    }
    return id
  })
  return { clinicId, name, principals, subs, tokens }
}

export async function freshTeam(service: TestService): Promise<{ teamId: string; token: string; sub: string }> {
  const sub = `reader-${uuidv7()}`
  const teamId = await withOwner(service.database.adminUrl, async (client) => {
    const id = await createTeam(client, { name: 'Team of a test' })
    await addTeamReader(client, { teamId: id, issuer: ISSUER, sub, displayName: 'Reader' })
    return id
  })
  return { teamId, sub, token: await service.mint({ sub, team: teamId }) }
}

function apiOf(app: FastifyInstance, token: string | null): Api {
  const authorization: Record<string, string> = token === null ? {} : { authorization: `Bearer ${token}` }
  const send = async <T>(
    method: 'GET' | 'POST' | 'PUT',
    url: string,
    body: unknown,
    headers: Record<string, string>,
    options: SendOptions,
  ): Promise<Answer<T>> => {
    const payload = method === 'GET' ? undefined : (options.bytes ?? JSON.stringify(body))
    const answer = await app.inject({
      method,
      url,
      headers: { ...authorization, ...(payload === undefined ? {} : { 'content-type': 'application/json' }), ...headers, ...options.headers }, // prettier-ignore
      ...(payload === undefined ? {} : { payload: typeof payload === 'string' ? payload : Buffer.from(payload) }),
    })
    const json = /\bjson(;|$)/.test(answer.headers['content-type'] ?? '')
    return {
      status: answer.statusCode,
      headers: answer.headers as Record<string, string | undefined>,
      body: (json ? answer.json() : answer.payload) as T,
      text: answer.payload,
    }
  }
  return {
    get: (url, options = {}) => send('GET', url, undefined, {}, options),
    post: (url, body, options = {}) =>
      send('POST', url, body, options.key === null ? {} : { 'idempotency-key': options.key ?? uuidv7() }, options),
    put: (url, body, ifMatch, options = {}) =>
      send('PUT', url, body, ifMatch === null ? {} : { 'if-match': ifMatch }, options),
  }
}

/** Most tests push nothing: threads are started by the first that does. */
function poolOnDemand(): PreparationPool {
  let made: PreparationPool | null = null
  const real = (): PreparationPool =>
    (made ??= createPreparationPool({ threads: 1, maxQueue: 20, timeLimitMs: 30_000 }))
  return {
    prepare: (...args) => real().prepare(...args),
    reanalyse: (...args) => real().reanalyse(...args),
    print: (...args) => real().print(...args),
    warmUp: () => real().warmUp(),
    close: async () => made?.close(),
    waiting: () => made?.waiting() ?? 0,
  }
}
