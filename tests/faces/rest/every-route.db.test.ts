import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import { CLINIC_ROLES } from '../../../src/tenancy/actor.ts'
import { mayDo } from '../../../src/tenancy/policy.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type FreshClinic } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { seen } from '../../application/sessions/documents.ts'
import {
  call,
  makeIds,
  RECIPES,
  recipeOf,
  registeredRoutes,
  roleFor,
  SHARED,
  type Ids,
  type RegisteredRoute,
} from './route-recipes.ts'

const database = await testDatabase()
const service = await makeTestService(database, { ledger: await makeTestLedger(database) })
const routes = registeredRoutes(service.app)
const named = routes.map((route) => [route.name, route] as const)

let clinic: FreshClinic
let ids: Ids
/** Records of another clinic. */
let theirs: Ids
beforeAll(async () => {
  clinic = await freshClinic(service)
  ids = await makeIds(service, clinic)
  theirs = await makeIds(service, await freshClinic(service))
  expect((await service.api(clinic.tokens.auditor).post('/v1/audit/seal', {}, { key: null })).status).toBe(200)
})

/** Records that the route may change. */
async function recordsFor(route: RegisteredRoute): Promise<Ids> {
  const recipe = recipeOf(route)
  const own = recipe.ownRecords === true ? await makeIds(service, clinic) : ids
  await recipe.before?.(own)
  return own
}

const tokenFor = (action: RegisteredRoute['action']): string => clinic.tokens[roleFor(action)]
const withBody = named.filter(([, route]) => route.method !== 'GET' && RECIPES[route.name]?.body !== undefined)
const withRecordIds = named.filter(([, route]) => route.slots.some((slot) => typeof RECIPES[route.name]?.path?.[slot] === 'string')) // prettier-ignore
const withVersion = named.filter(([, route]) => RECIPES[route.name]?.ifMatchOf !== undefined)
const creating = named.filter(([, route]) => route.creates)

describe('every route', () => {
  it('has a recipe, and every recipe a route', () => {
    expect(routes.map(({ name }) => name).sort()).toEqual(Object.keys(RECIPES).sort())
    expect(routes.length).toBeGreaterThan(40)
  })

  it.each(named.filter(([, route]) => !route.creates))('%s does what it is for', async (_name, route) => {
    const recipe = recipeOf(route)
    const own = await recordsFor(route)
    const answer = await call(service, tokenFor(route.action), route, own)
    expect(answer.status, answer.text).toBe(recipe.success)
  })

  it.each(named)('%s refuses who is nobody: 401, the same words for no token and a false one', async (_name, route) => {
    const none = await call(service, null, route, ids, { ifMatch: '"1"' })
    const false_ = await call(service, `${clinic.tokens.owner.slice(0, -8)}AAAAAAAA`, route, ids, { ifMatch: '"1"' })
    expect([none.status, none.body.code, none.headers['www-authenticate']]).toEqual([401, 'unauthenticated', 'Bearer'])
    expect(seen(false_)).toEqual(seen(none))
  })

  it.each(named)('%s refuses with 403 the roles that may not, whatever they name', async (_name, route) => {
    for (const role of CLINIC_ROLES.filter((one) => !mayDo(one, route.action))) {
      const [mine, absent] = [
        await call(service, clinic.tokens[role], route, ids, { ifMatch: '"1"' }),
        await call(service, clinic.tokens[role], route, ids, { ifMatch: '"1"', path: everySlot(route.slots, uuidv7) }),
      ]
      expect([role, mine.status, mine.body.code]).toEqual([role, 403, 'forbidden'])
      expect(seen(absent)).toEqual(seen(mine))
    }
  })

  it.each(named)('%s refuses a query parameter that it does not know', async (_name, route) => {
    const recipe = recipeOf(route)
    const query = { ...recipe.query?.(ids), unexpected: 'canary' }
    const answer = await call(service, tokenFor(route.action), route, ids, { query, ifMatch: '"999"' })
    expect([answer.status, answer.body.code], answer.text).toEqual([400, 'invalid_query'])
    expect(answer.body.errors).toMatchObject([{ pointer: '#/query/unexpected' }])
    expect(answer.text).not.toContain('canary')
  })
})

const everySlot = (slots: readonly string[], value: () => string): Record<string, string> =>
  Object.fromEntries(slots.map((slot) => [slot, value()]))

describe('every route with an id in its address', () => {
  it.each(withRecordIds)(
    "%s answers an unknown id, another clinic's and no id at all alike: 404",
    async (_name, route) => {
      const recipe = recipeOf(route)
      for (const slot of route.slots) {
        const name = recipe.path?.[slot]
        if (typeof name !== 'string' || SHARED.includes(name)) continue
        const ask = (value: string) => call(service, tokenFor(route.action), route, ids, { path: { [slot]: value }, ifMatch: '"1"' }) // prettier-ignore
        const unknown = await ask(uuidv7())
        expect([unknown.status, unknown.body.code], unknown.text).toEqual([404, 'not_found'])
        for (const value of [theirs[name], 'not-an-id', '0', '%00', "1' or '1'='1", theirs[name].slice(0, -1)]) {
          expect(seen(await ask(value)), value).toEqual(seen(unknown))
        }
      }
    },
  )

  it('takes an id in any case, as the same record', async () => {
    const api = service.api(clinic.tokens.clinician)
    for (const url of [`/v1/subjects/${ids.subjectId}`, `/v1/sessions/${ids.sessionId}`]) {
      const upper = url.replace(/[^/]+$/, (id) => id.toUpperCase())
      expect((await api.get(upper)).text).toBe((await api.get(url)).text)
    }
  })
})

describe('every route with a body', () => {
  it.each(withBody)('%s refuses a field that it does not know, and stores nothing', async (_name, route) => {
    const body: LooseDocument = { ...recipeOf(route).body?.(ids), unexpectedField: 'canary' }
    const answer = await call(service, tokenFor(route.action), route, ids, { body })
    expect(answer.status, answer.text).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer: '#/unexpectedField', code: 'unknown_field' }])
    expect(answer.text).not.toContain('canary')
  })

  const BYTES: readonly (readonly [what: string, bytes: string | Uint8Array, code: RegExp])[] = [
    ['nothing', '', /invalid_json/],
    ['no JSON', '{"a":', /invalid_json/],
    ['an array', '[]', /invalid_document/],
    ['a text', '"x"', /invalid_document/],
    ['null', 'null', /invalid_document/],
    ['a key twice', '{"reason":"a","reason":"b"}', /duplicate_key/],
    ['a prototype', '{"__proto__":{"reason":"x"}}', /invalid_json/],
    ['1e999', '{"value":1e999}', /value_out_of_range|invalid_document/],
    ['no UTF-8', Buffer.from([0x7b, 0x22, 0xc3, 0x28, 0x22, 0x3a, 0x31, 0x7d]), /invalid_json/],
    ['half a character', '{"reason":"\\ud800"}', /invalid_json/],
    ['a NUL', '{"reason":"a\\u0000b"}', /invalid_json/],
    ['33 objects in each other', `${'{"a":'.repeat(33)}1${'}'.repeat(33)}`, /invalid_json/],
  ]
  it.each(withBody)('%s refuses what is not a document of its kind: 400, no word about how', async (_name, route) => {
    for (const [what, bytes, code] of BYTES) {
      const answer = await call(service, tokenFor(route.action), route, ids, { bytes })
      expect([what, answer.status], answer.text).toEqual([what, 400])
      expect(answer.body.code).toMatch(code)
      expect(answer.headers['content-type']).toMatch(/^application\/problem\+json/)
      expect(answer.text).not.toMatch(/node_modules|\.ts\b|at \/|SyntaxError|JSON\.parse|zod|select |insert |postgres/i)
    }
  })
})

describe('every route that takes no body', () => {
  const bodiless = named.filter(([, route]) => route.method === 'POST' && RECIPES[route.name]?.body === undefined)
  it.each(bodiless)('%s refuses one that says something', async (_name, route) => {
    const answer = await call(service, tokenFor(route.action), route, ids, { body: { dryRun: true } })
    expect(answer.status, answer.text).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer: '#/dryRun', code: 'unknown_field' }])
  })
})

describe('every route that creates', () => {
  it.each(creating)('%s needs an Idempotency-Key', async (_name, route) => {
    const answer = await call(service, tokenFor(route.action), route, ids, { key: null })
    expect([answer.status, answer.body.code]).toEqual([400, 'idempotency_key_required'])
  })

  it.each(creating)(
    '%s does what it is for, once: a retry is answered byte for byte, its key with other content with 422',
    async (_name, route) => {
      const own = await recordsFor(route)
      const body: LooseDocument = recipeOf(route).body?.(own) ?? {}
      const key = uuidv7()
      const first = await call(service, tokenFor(route.action), route, own, { body, key })
      expect(first.status, first.text).toBe(201)
      expect(first.headers['location']).toMatch(/^\/v1\//)
      const again = await call(service, tokenFor(route.action), route, own, { body, key })
      expect([again.status, again.text, again.headers['idempotency-replayed']]).toEqual([201, first.text, 'true'])
      const bytes = `${JSON.stringify(body)} `
      const other = await call(service, tokenFor(route.action), route, own, { bytes, key })
      expect([other.status, other.body.code]).toEqual([422, 'key_reused'])
    },
  )
})

describe('every route that edits', () => {
  it.each(withVersion)('%s needs If-Match with the version in force', async (_name, route) => {
    const without = await call(service, tokenFor(route.action), route, ids, { ifMatch: null })
    expect([without.status, without.body.code]).toEqual([428, 'version_required'])
    for (const ifMatch of ['"999"', '*', 'W/"1"', '1', '""']) {
      const stale = await call(service, tokenFor(route.action), route, ids, { ifMatch })
      expect([ifMatch, stale.status, stale.body.code]).toEqual([ifMatch, 412, 'stale_version'])
    }
  })
})
