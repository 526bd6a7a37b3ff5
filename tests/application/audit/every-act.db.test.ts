/** Every route and every field, as they are found: one event for each act, which names everyone whose data the answer shows. */
import { beforeAll, describe, expect, it } from 'vitest'
import { asker } from '../../faces/graphql/ask.ts'
import { mutationArgs, mutationNames, operationsFor, queryArgs, queryNames, routeOf } from '../../faces/graphql/field-recipes.ts' // prettier-ignore
import { call, makeIds, recipeOf, registeredRoutes, roleFor, type Ids, type RegisteredRoute } from '../../faces/rest/route-recipes.ts' // prettier-ignore
import { freshClinic, makeTestService, type Answer, type FreshClinic } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { sql } from '../sessions/documents.ts'

const database = await testDatabase()
const service = await makeTestService(database, { ledger: await makeTestLedger(database) })
const routes = registeredRoutes(service.app)

/** What shows nobody's data. */
const NOBODYS = ['GET /v1/me', 'GET /v1/code-lists', 'GET /v1/code-lists/:key', 'GET /v1/dynamometers/starter']
/** The log names subjects by id, and is not their data; a proof of it shows an entry. */
const ofTheLog = ({ action }: RegisteredRoute): boolean => action.startsWith('audit.')

let clinic: FreshClinic
let ids: Ids
beforeAll(async () => {
  clinic = await freshClinic(service)
  ids = await makeIds(service, clinic)
  await makeIds(service, clinic)
  await service.api(clinic.tokens.auditor).post('/v1/audit/seal', {}, { key: null })
}, 60_000)

interface Logged {
  readonly action: string
  readonly outcome: string
  readonly subjects: readonly string[]
}

const eventsOf = ({ headers }: Answer): Promise<Logged[]> =>
  sql<Logged>(service, `select action, outcome, subject_ids::text[] as subjects from audit_event where request_id = $1`, [headers['x-request-id']]) // prettier-ignore

/** Subjects of every record of the clinic, by the id of the record: theirs now, or once. */
async function subjectsById(): Promise<ReadonlyMap<string, string>> {
  const tables = await sql<{ name: string }>(
    service,
    `select c.relname::text as name from pg_class c where c.relnamespace = 'public'::regnamespace and c.relkind = 'r'
       and (select count(*) from pg_attribute a where a.attrelid = c.oid and a.attname in ('id', 'subject_id', 'clinic_id')
            and a.atttypid = 'uuid'::regtype) = 3`,
  )
  expect(tables.length).toBeGreaterThan(6)
  const each = tables.map(
    ({ name }) => `select id::text, subject_id::text as subject from ${name} where clinic_id = $1`,
  )
  each.push('select id::text, id::text from subject where clinic_id = $1')
  each.push('select s.id::text, c.subject_id::text from report_share s join consent c on c.clinic_id = s.clinic_id and c.id = s.consent_id where s.clinic_id = $1') // prettier-ignore
  const rows = await sql<{ id: string; subject: string }>(service, each.join(' union all '), [clinic.clinicId])
  return new Map(rows.map(({ id, subject }) => [id, subject]))
}

const UUID = /[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}/g
/** Routes and fields whose answers showed somebody: what shows nobody proves nothing here. */
const showing = new Set<string>()
/** Whose records the answer shows. */
function shownIn({ text }: Answer, known: ReadonlyMap<string, string>): string[] {
  return [...new Set((text.match(UUID) ?? []).flatMap((id) => known.get(id) ?? []))].sort()
}

describe('every route', () => {
  it.each(routes.map((route) => [route.name, route] as const))('%s leaves its one event', async (_name, route) => {
    const recipe = recipeOf(route)
    const own = recipe.ownRecords === true ? await makeIds(service, clinic) : ids
    await recipe.before?.(own)
    const before = await subjectsById()
    const answer = await call(service, clinic.tokens[roleFor(route.action)], route, own)
    expect(answer.status, answer.text).toBe(recipe.success)
    const events = await eventsOf(answer)
    if (NOBODYS.includes(route.name)) return expect(events).toEqual([])
    expect(events.map(({ action, outcome }) => [action, outcome])).toEqual([[route.action, 'done']])
    if (ofTheLog(route)) return
    const shown = shownIn(answer, new Map([...before, ...(await subjectsById())]))
    const subjects = events.flatMap((event) => event.subjects)
    if (shown.length > 0) showing.add(route.name)
    expect(shown.filter((subject) => !subjects.includes(subject))).toEqual([])
    // Who asks by the id of a person asks about that person, whatever the answer shows.
    if (route.slots.includes('subjectId')) expect(subjects).toContain(own.subjectId)
  })
})

describe('every field of GraphQL', () => {
  const check = async (name: string, answer: Answer<{ errors?: unknown }>, known: ReadonlyMap<string, string>) => {
    expect([name, answer.status, answer.body.errors]).toEqual([name, 200, undefined])
    const events = await eventsOf(answer)
    expect(events.every(({ outcome }) => outcome === 'done')).toBe(true)
    const named = events.flatMap(({ subjects }) => subjects)
    const shown = shownIn(answer, known)
    if (shown.length > 0) showing.add(name)
    expect([name, ...shown.filter((subject) => !named.includes(subject))]).toEqual([name])
    return events
  }

  it('leaves events that name everyone whose data its answer shows', { timeout: 60_000 }, async () => {
    const known = await subjectsById()
    for (const name of queryNames.filter((one) => !['me', 'team', 'auditEvents'].includes(one))) {
      for (const { query, variables } of operationsFor('query', name, queryArgs(name, ids), ids)) {
        const events = await check(name, await asker(service, clinic.tokens.owner)(query, variables), known)
        expect([name, events.length > 0]).toEqual([name, true])
      }
    }
  })

  it.each(mutationNames)(
    '%s leaves the event of its route, with everyone it shows',
    { timeout: 60_000 },
    async (name) => {
      const own = await makeIds(service, clinic)
      const { action } = routes.find((route) => route.name === routeOf(name)) as RegisteredRoute
      const args = mutationArgs(name, own)
      if ('version' in args) args['version'] = await versionOf(routeOf(name), own)
      const [operation] = operationsFor('mutation', name, args, own)
      const answer = await asker(service, clinic.tokens[roleFor(action)])(operation!.query, operation!.variables)
      const events = await check(name, answer, await subjectsById())
      expect(events.filter((event) => event.action === action)).toHaveLength(1)
    },
  )
})

describe('most of them', () => {
  it('did show somebody', () => {
    expect(showing.size).toBeGreaterThan(60)
  })
})

async function versionOf(route: string, own: Ids): Promise<number> {
  const url = recipeOf({ name: route } as RegisteredRoute).ifMatchOf?.(own) ?? ''
  const { headers } = await service.api(clinic.tokens.owner).get(url)
  return Number((headers['etag'] ?? '').replaceAll('"', ''))
}
