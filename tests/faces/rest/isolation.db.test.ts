import { randomBytes } from 'node:crypto'
import { v7 as uuidv7, validate as isUuid } from 'uuid'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { CLINIC_ROLES, type ClinicRole } from '../../../src/tenancy/actor.ts'
import { TABLE_CLASSES } from '../../../src/store/table-classes.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type Answer, type FreshClinic } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { seen, sql } from '../../application/sessions/documents.ts'
import { call, currentVersion, makeIds, recipeOf, registeredRoutes, roleFor, SHARED, type Ids, type RegisteredRoute, type Sent } from './route-recipes.ts' // prettier-ignore

/** More rounds, each with a victim of its own: LIMB_LEDGER_ISOLATION_ROUNDS=10. */
const ROUNDS = Number(process.env['LIMB_LEDGER_ISOLATION_ROUNDS'] ?? 1)
const AT_LEAST_PROBES = 10_000 * ROUNDS
/** As many as the service has connections, and some that wait. */
const AT_ONCE = 8

const database = await testDatabase()
// One moment for all: an answer that says when it was made is the same answer a moment later.
const now = new Date()
const service = await makeTestService(database, { ledger: await makeTestLedger(database), clock: () => now })
const routes = registeredRoutes(service.app)

let mine: FreshClinic
let ids: Ids
const theirs: Ids[] = []
/** Of each of them the id of one record of every table, by table; and what names its clinic and members. */
const foreignIds = new Map<Ids, Readonly<Record<string, string>>>()
/** What stands in the records of the other clinics alone: none of it may be in any answer or line of the log. */
const canaries: string[] = []
let probes = 0
let untouched: string

const RECORDS = ['subjectId', 'episodeId', 'dynamometerId', 'sessionId', 'resultId', 'otherResultId', 'flagId', 'holdId', 'consentId', 'reportId', 'recordingSha256'] as const // prettier-ignore

beforeAll(async () => {
  mine = await freshClinic(service)
  ids = await makeIds(service, mine, 'RB-mine')
  for (let round = 0; round < ROUNDS; round++) {
    const clinic = await freshClinic(service)
    const victim = await makeIds(service, clinic, `CANARY-number-${round}`)
    theirs.push(victim)
    const api = victim.world.clinician
    const subject = (await api.get(`/v1/subjects/${victim.subjectId}`)).body
    const name = `Canary-name-${round}`
    const words = { identifiers: subject.identifiers, name, sex: 'male', sport: `Canary-sport-${round}` }
    expect((await api.put(`/v1/subjects/${victim.subjectId}`, words, '"1"')).status).toBe(200)
    canaries.push(name, `Canary-sport-${round}`, `CANARY-number-${round}`, clinic.name, clinic.clinicId)
    canaries.push(...RECORDS.map((record) => victim[record]), ...Object.values(clinic.principals))
    canaries.push(...Object.values(clinic.tokens).map((token) => token.split('.')[2] ?? token))
    await service.api(clinic.tokens.auditor).post('/v1/audit/seal', {}, { key: null })
    const records = await recordsOf(clinic.clinicId)
    canaries.push(...records.map(({ id }) => id))
    foreignIds.set(victim, {
      ...Object.fromEntries(records.map(({ name, id }) => [name, id])),
      ...Object.fromEntries(RECORDS.map((record) => [record, victim[record]])),
      clinic: clinic.clinicId,
      member: clinic.principals.clinician,
      criteriaSetKey: victim.criteriaSetKey,
    })
  }
  await service.api(mine.tokens.auditor).post('/v1/audit/seal', {}, { key: null })
  untouched = await rowsOfTheirs()
}, 120_000)

afterAll(() => console.log(`Isolation: ${probes} probes in ${ROUNDS} round(s), ${routes.length} routes, 5 roles`))

const tenantTables = Object.entries(TABLE_CLASSES).flatMap(([name, kind]) => (kind === 'tenant' ? [name] : []))

/** Every record of a clinic that has an id of its own. */
async function recordsOf(clinicId: string): Promise<{ name: string; id: string }[]> {
  const withId = await sql<{ name: string }>(
    service,
    `select c.relname::text as name from pg_attribute a join pg_class c on c.oid = a.attrelid
     where c.relnamespace = 'public'::regnamespace and c.relname = any ($1) and a.attname = 'id' and a.atttypid = 'uuid'::regtype`,
    [tenantTables],
  )
  const each = withId.map(({ name }) => `select '${name}' as name, id::text from ${name} where clinic_id = $1`)
  return sql(service, each.join(' union all '), [clinicId])
}

/** Every row of the other clinics, as one hash. */
async function rowsOfTheirs(): Promise<string> {
  const clinics = theirs.map((victim) => victim.world.clinic.clinicId)
  const hashes = tenantTables.map((name) => `select '${name}' || md5(coalesce(string_agg(t::text, '' order by t::text), '')) as h from ${name} t where clinic_id = any($1::uuid[])`) // prettier-ignore
  const rows = await sql<{ h: string }>(service, hashes.join(' union all '), [clinics])
  return rows.map(({ h }) => h).join('\n')
}

/** The answer to a foreign id has to be the answer to an id of nothing, and neither may know of the other clinic. */
async function probe(role: ClinicRole, route: RegisteredRoute, foreign: Sent, missing: Answer | Sent): Promise<void> {
  const got = await call(service, mine.tokens[role], route, ids, foreign)
  const expected = 'status' in missing ? missing : await call(service, mine.tokens[role], route, ids, missing)
  probes++
  const where = `${role} ${route.name} ${JSON.stringify(foreign.path ?? foreign.query ?? {})}`
  expect(got.status, `${where}: ${got.text}`).toBeLessThan(500)
  expect(seen(got), where).toEqual(seen(expected))
  const whole = `${got.text} ${JSON.stringify(got.headers)}`
  expect(canaries.filter((canary) => whole.includes(canary)), where).toEqual([]) // prettier-ignore
}

/** Where the answer grows with every request that the log takes in: what counts is that nothing of theirs is in it. */
async function quietProbe(role: ClinicRole, route: RegisteredRoute, sent: Sent): Promise<void> {
  const got = await call(service, mine.tokens[role], route, ids, sent)
  probes++
  expect(got.status, `${role} ${route.name}: ${got.text.slice(0, 300)}`).toBeLessThan(500)
  const whole = `${got.text} ${JSON.stringify(got.headers)}`
  expect(canaries.filter((canary) => whole.includes(canary)), `${role} ${route.name}`).toEqual([]) // prettier-ignore
}

/** Not one after the other: each waits for a commit of the log, and many commit in one stroke. */
async function allOf(jobs: readonly (() => Promise<unknown>)[]): Promise<void> {
  let next = 0
  const worker = async () => {
    for (let job = jobs[next++]; job !== undefined; job = jobs[next++]) await job()
  }
  await Promise.all(Array.from({ length: AT_ONCE }, worker))
}

const withSlots = routes.filter((route) => route.slots.some((slot) => typeof recipeOf(route).path?.[slot] === 'string'))

// Hundreds of requests in a test, on a machine that may be busy.
describe("another clinic's ids", { timeout: 180_000 }, () => {
  it.each(withSlots.map((route) => [route.name, route] as const))(
    'in the address of %s are ids of nothing',
    async (_name, route) => {
      const recipe = recipeOf(route)
      const asked = route.slots.filter((slot) => {
        const name = recipe.path?.[slot]
        return typeof name === 'string' && !SHARED.includes(name)
      })
      for (const role of CLINIC_ROLES) {
        for (const slot of asked) {
          const ifMatch = '"1"'
          const missing = await call(service, mine.tokens[role], route, ids, { path: { [slot]: uuidv7() }, ifMatch })
          // Of every kind of record: an id of the wrong table is none either.
          const foreign = theirs.flatMap((victim) => Object.values(foreignIds.get(victim) ?? {}))
          await allOf(foreign.map((id) => () => probe(role, route, { path: { [slot]: id }, ifMatch }, missing)))
        }
      }
    },
  )

  it('in a query are ids of nothing', async () => {
    for (const role of CLINIC_ROLES) {
      for (const route of routes) {
        const query = recipeOf(route).query?.(ids) ?? {}
        for (const [key, value] of Object.entries(query)) {
          const record = RECORDS.find((one) => ids[one] === value)
          if (record === undefined) continue
          const missing = await call(service, mine.tokens[role], route, ids, { query: { ...query, [key]: uuidv7() }, ifMatch: '"1"' }) // prettier-ignore
          const foreign = theirs.flatMap((victim) => Object.values(foreignIds.get(victim) ?? {})).filter(isUuid)
          await allOf(foreign.map((id) => () => probe(role, route, { query: { ...query, [key]: id }, ifMatch: '"1"' }, missing))) // prettier-ignore
        }
      }
    }
  })

  it('in a query that searches find nothing', async () => {
    const [victim] = theirs
    if (victim === undefined) throw new Error('no other clinic')
    const searches: readonly (readonly [string, Record<string, string>, Record<string, string>])[] = [
      ['GET /v1/subjects', { identifierSystem: 'https://clinic.example/record-number', identifierValue: victim.world.number }, { identifierSystem: 'https://clinic.example/record-number', identifierValue: 'RB-none' }], // prettier-ignore
      ['GET /v1/sessions', { externalIdSystem: 'https://ehr.clinic.example/visit', externalIdValue: `V-${victim.world.number}-1` }, { externalIdSystem: 'https://ehr.clinic.example/visit', externalIdValue: 'V-none' }], // prettier-ignore
      ['GET /v1/sessions', { subjectId: victim.subjectId }, { subjectId: uuidv7() }],
      ['GET /v1/audit/events', { subjectId: victim.subjectId }, { subjectId: uuidv7() }],
      ['GET /v1/audit/events', { actorId: victim.world.clinic.principals.owner }, { actorId: uuidv7() }],
    ]
    for (const [name, foreign, nothing] of searches) {
      const route = routes.find((one) => one.name === name)
      if (route === undefined) throw new Error(`no route ${name}`)
      // What a role asks of the log is in the log that the next role reads, so one role asks there.
      const roles = name.startsWith('GET /v1/audit') ? (['auditor'] as const) : CLINIC_ROLES
      for (const role of roles) await probe(role, route, { query: foreign }, { query: nothing })
    }
  })

  it('in a cursor lead nowhere: what follows them is my own', async () => {
    const cursorAt = (id: string): string => Buffer.from(`v1:${id}`).toString('base64url')
    /** The id next to one: it stands at the same place in every list and names nothing. */
    const beside = (id: string): string => id.slice(0, -1) + (parseInt(id.slice(-1), 16) ^ 1).toString(16)
    for (const route of routes.filter(({ pages }) => pages)) {
      for (const role of CLINIC_ROLES) {
        const query = recipeOf(route).query?.(ids) ?? {}
        // A list is paged by ids of its own kind, so ids of every kind are tried, events of the log among them.
        const foreign = theirs.flatMap((victim) => Object.values(foreignIds.get(victim) ?? {})).filter(isUuid)
        await allOf(foreign.map((id) => () => probe(role, route, { query: { ...query, cursor: cursorAt(id) } }, { query: { ...query, cursor: cursorAt(beside(id)) } }))) // prettier-ignore
      }
    }
  })

  it('in a body are references to nothing, wherever they stand', async () => {
    for (const route of routes.filter(({ method }) => method !== 'GET')) {
      const recipe = recipeOf(route)
      const body = recipe.body?.(ids)
      if (body === undefined) continue
      const ifMatch = await currentVersion(service, recipe, ids)
      for (const { path, kind } of referencesIn(body)) {
        for (const victim of theirs) {
          const [foreign, nothing] = [put(body, path, valueOf(victim, kind)), put(body, path, valueOf(null, kind))]
          await allOf(CLINIC_ROLES.map((role) => () => probe(role, route, { body: foreign, ifMatch }, { body: nothing, ifMatch }))) // prettier-ignore
        }
      }
    }
  })

  it('of members cannot be borrowed: their token names their clinic, and a token for mine needs a membership of mine', async () => {
    for (const victim of theirs) {
      const { clinic } = victim.world
      for (const role of CLINIC_ROLES) {
        const token = await service.mint({ sub: clinic.subs[role], clinic: mine.clinicId })
        const answer = await service.api(token).get('/v1/me')
        probes++
        expect(answer.status).toBe(401)
      }
    }
  })
})

/** What one might think a service asks to know its clinic. */
const clinicHeaders = (id: string) => ({
  'x-clinic-id': id,
  'clinic-id': id,
  clinic: id,
  'x-tenant-id': id,
  tenant: id,
})

describe('a clinic that a request names', { timeout: 180_000 }, () => {
  const nobodys = uuidv7()
  const named = () => theirs.map((victim) => victim.world.clinic.clinicId)
  const readsTheLog = ({ name }: RegisteredRoute) => /audit|disclosures|export/.test(name)

  it('in a header decides nothing: who reads gets what is its own, who writes is told what it would be told anyway', async () => {
    for (const route of routes) {
      for (const role of CLINIC_ROLES) {
        // What it would do is not done: a document with a field that nobody knows.
        const sent = route.method === 'GET' ? {} : { body: { unknownField: 1 }, ifMatch: '"1"' }
        for (const clinicId of named()) {
          const [foreign, nothing] = [{ ...sent, headers: clinicHeaders(clinicId) }, { ...sent, headers: clinicHeaders(nobodys) }] // prettier-ignore
          if (readsTheLog(route)) await quietProbe(role, route, foreign)
          else await probe(role, route, foreign, nothing)
        }
      }
    }
  })

  it('in the query is a parameter that nobody knows', async () => {
    for (const route of routes) {
      const query = recipeOf(route).query?.(ids) ?? {}
      for (const key of ['clinicId', 'clinic', 'tenant']) {
        const missing = (role: ClinicRole) => call(service, mine.tokens[role], route, ids, { query: { ...query, [key]: nobodys }, ifMatch: '"1"' }) // prettier-ignore
        for (const clinicId of named())
          await allOf(CLINIC_ROLES.map((role) => async () => probe(role, route, { query: { ...query, [key]: clinicId }, ifMatch: '"1"' }, await missing(role)))) // prettier-ignore
      }
    }
  })

  it('in the body is a field that nobody knows', async () => {
    for (const route of routes.filter(({ method }) => method !== 'GET')) {
      const body = recipeOf(route).body?.(ids) ?? {}
      for (const key of ['clinicId', 'clinic', 'clinic_id']) {
        for (const clinicId of named())
          await allOf(CLINIC_ROLES.map((role) => () => probe(role, route, { body: { ...body, [key]: clinicId }, ifMatch: '"1"' }, { body: { ...body, [key]: nobodys }, ifMatch: '"1"' }))) // prettier-ignore
      }
    }
  })
})

describe("another clinic's keys and versions", () => {
  it('an Idempotency-Key that they used is free for me, and mine changes nothing of theirs', async () => {
    const [victim] = theirs
    if (victim === undefined) throw new Error('no other clinic')
    // The victim now does something itself: what came before has to have left its rows alone.
    expect(await rowsOfTheirs()).toBe(untouched)
    const nameIn = (route: RegisteredRoute, slot: string) => recipeOf(route).path?.[slot] as 'setKey' | 'teamId'
    const isShared = (route: RegisteredRoute) => route.slots.every((slot) => SHARED.includes(nameIn(route, slot)))
    for (const route of routes.filter((one) => one.creates && isShared(one))) {
      const key = uuidv7()
      const role = roleFor(route.action)
      const recipe = recipeOf(route)
      const body = recipe.body?.(victim)
      // An address that both may name is one address for both.
      const path = Object.fromEntries(route.slots.map((slot) => [slot, victim[nameIn(route, slot)]]))
      await recipe.before?.(victim)
      await recipe.before?.(ids)
      const first = await call(service, victim.world.clinic.tokens[role], route, victim, { body, key, path })
      expect(first.status, first.text).toBe(201)
      const own = await call(service, mine.tokens[role], route, ids, { key, path })
      probes++
      expect([route.name, own.status, own.headers['idempotency-replayed']]).toEqual([route.name, 201, undefined])
      expect(canaries.filter((canary) => own.text.includes(canary))).toEqual([])
    }
    untouched = await rowsOfTheirs()
  })

  it('an ETag of theirs is worth nothing where the record is not', async () => {
    for (const route of routes.filter((one) => recipeOf(one).ifMatchOf !== undefined)) {
      const [slot = ''] = route.slots
      for (const victim of theirs) {
        const record = recipeOf(route).path?.[slot]
        if (typeof record !== 'string') continue
        for (const ifMatch of ['"1"', '"2"', '"999"', null]) {
          const role = roleFor(route.action)
          await probe(role, route, { path: { [slot]: victim[record] }, ifMatch }, { path: { [slot]: uuidv7() }, ifMatch }) // prettier-ignore
        }
      }
    }
  })
})

describe('after all of it', () => {
  it('the rows of the other clinics are what they were', async () => {
    expect(await rowsOfTheirs()).toBe(untouched)
  })

  it('no line of the log knows them', () => {
    const lines = service.logged().split('\n')
    // Their own requests are logged as well; those name no one either.
    expect(lines.filter((line) => canaries.some((canary) => line.includes(canary)))).toEqual([])
  })

  it(`there were at least ${AT_LEAST_PROBES} probes`, () => {
    expect(probes).toBeGreaterThanOrEqual(AT_LEAST_PROBES)
  })
})

type Kind = (typeof RECORDS)[number] | 'number' | 'case' | 'visit' | 'machine' | 'member'

/** Where a document points at records of mine: by id, by identifier or by external id. */
function referencesIn(document: LooseDocument): { path: (string | number)[]; kind: Kind }[] {
  const found: { path: (string | number)[]; kind: Kind }[] = []
  const walk = (value: unknown, path: (string | number)[]): void => {
    if (typeof value === 'object' && value !== null) {
      for (const [key, inner] of Object.entries(value)) walk(inner, [...path, Array.isArray(value) ? Number(key) : key])
      return
    }
    const record = RECORDS.find((one) => ids[one] === value)
    if (record !== undefined) found.push({ path, kind: record })
    if (value === 'clinician' && path.includes('operator')) found.push({ path: path.slice(0, -2), kind: 'member' })
  }
  walk(document, [])
  const whole: { path: (string | number)[]; kind: Kind }[] = []
  for (const { path, kind } of found) {
    whole.push({ path, kind })
    // The same place by the name that the other clinic gives its record.
    if (path.at(-1) !== 'id') continue
    const at = path.slice(0, -1)
    if (kind === 'subjectId') whole.push({ path: at, kind: 'number' })
    if (kind === 'episodeId') whole.push({ path: at, kind: 'case' })
    if (kind === 'dynamometerId') whole.push({ path: at, kind: 'machine' })
    if (kind === 'sessionId') whole.push({ path: at, kind: 'visit' })
  }
  return whole
}

const nothingLike = (kind: Kind): string => (kind === 'recordingSha256' ? randomBytes(32).toString('hex') : uuidv7())

/** Of theirs; null: of nobody. */
function valueOf(victim: Ids | null, kind: Kind): unknown {
  const named = (system: string, value: string) => ({ system, value })
  const number = victim?.world.number ?? 'none'
  switch (kind) {
    case 'number':
      return { identifier: named('https://clinic.example/record-number', number) }
    case 'case':
      return { externalId: named('https://ehr.clinic.example/case', `C-${number}`) }
    case 'machine':
      return { externalId: named('https://clinic.example/equipment', `lab of ${number}`) }
    case 'visit':
      return { externalId: named('https://ehr.clinic.example/visit', `V-${number}-1`) }
    case 'member':
      return { id: victim?.world.clinic.principals.clinician ?? uuidv7() }
    default:
      return victim?.[kind] ?? nothingLike(kind)
  }
}

function put(document: LooseDocument, path: readonly (string | number)[], value: unknown): LooseDocument {
  const copy = structuredClone(document)
  let place = copy
  for (const step of path.slice(0, -1)) place = place[step]
  place[path.at(-1) ?? ''] = value
  return copy
}
