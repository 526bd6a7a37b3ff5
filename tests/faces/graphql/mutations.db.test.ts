/** What a clinician does by hand: the same validation, idempotency, audit and errors as over REST. */
import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import { sql } from '../../application/sessions/documents.ts'
import { freshClinic, makeTestService, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { call, makeIds, recipeOf, registeredRoutes, roleFor, type Ids } from '../rest/route-recipes.ts'
import { asker, dataOf } from './ask.ts'
import { mutationArgs, mutationNames, operationsFor, routeOf } from './field-recipes.ts'

// One moment for all: a retry answers the same, what is read below it included.
const now = new Date()
const service = await makeTestService(await testDatabase(), { clock: () => now })
const routes = registeredRoutes(service.app)
let clinic: FreshClinic

beforeAll(async () => {
  clinic = await freshClinic(service)
}, 60_000)

const routeFor = (name: string) => {
  const route = routes.find((one) => one.name === routeOf(name))
  if (route === undefined) throw new Error(`${name} has no route`)
  return route
}

/** What REST takes from If-Match GraphQL takes as the version. */
async function argsNow(name: string, ids: Ids): Promise<Record<string, unknown>> {
  const args = mutationArgs(name, ids)
  const recipe = recipeOf(routeFor(name))
  if (!('version' in args) || recipe.ifMatchOf === undefined) return args
  const etag = (await service.api(clinic.tokens.owner).get(recipe.ifMatchOf(ids))).headers['etag'] ?? ''
  return { ...args, version: Number(etag.replaceAll('"', '')) }
}

const send = (name: string, args: Record<string, unknown>, ids: Ids) => {
  const [operation] = operationsFor('mutation', name, args, ids)
  if (operation === undefined) throw new Error(name)
  return asker(service, clinic.tokens[roleFor(routeFor(name).action)])(operation.query, operation.variables)
}

const lastEvents = (action: string) =>
  sql<{ outcome: string; details: Record<string, unknown> }>(
    service,
    `select outcome, details from audit_event where clinic_id = $1 and action = $2 order by id desc limit 3`,
    [clinic.clinicId, action],
  )

describe('every mutation', () => {
  it.each(mutationNames)('%s does what its route does, once, and is in the log', { timeout: 60_000 }, async (name) => {
    const ids = await makeIds(service, clinic)
    const { action } = routeFor(name)
    const args = await argsNow(name, ids)
    const first = await dataOf(send(name, args, ids))
    expect(first[name]).toEqual(expect.any(Object))
    expect((await lastEvents(action))[0]).toMatchObject({ outcome: 'done' })
    if ('idempotencyKey' in args) {
      const again = await dataOf(send(name, args, ids))
      expect(again).toEqual(first)
      expect((await lastEvents(action))[0]?.details).toMatchObject({ replayed: true })
      if (!('document' in args)) return
      const other = { ...(args['document'] as object), ...otherContent(name) }
      const reused = await send(name, { ...args, document: other }, ids)
      expect(reused.body.errors?.map(({ extensions }) => extensions.code)).toEqual(['KEY_REUSED'])
    } else {
      const stale = await send(name, args, ids)
      expect(stale.body.errors?.[0]?.extensions.problem.code).toBe('stale_version')
    }
  })

  it.each(mutationNames.filter((name) => 'document' in mutationArgs(name, {} as never, {})))(
    '%s says of a document with faults what REST says, pointer by pointer',
    { timeout: 60_000 },
    async (name) => {
      const ids = await makeIds(service, clinic)
      const args = await argsNow(name, ids)
      const document = breakIt(args['document'] as LooseDocument)
      const told = await send(name, { ...args, document }, ids)
      const rest = await call(service, clinic.tokens[roleFor(routeFor(name).action)], routeFor(name), ids, { body: document }) // prettier-ignore
      const [error] = told.body.errors ?? []
      expect(told.body.data[name]).toBeNull()
      expect({ ...error?.extensions.problem, requestId: '' }).toEqual({ ...rest.body, requestId: '' })
      expect(rest.status).toBe(400)
      expect((await lastEvents(routeFor(name).action)).slice(0, 2)).toMatchObject([{ outcome: 'refused', details: { code: rest.body.code } }, { outcome: 'refused', details: { code: rest.body.code } }]) // prettier-ignore
    },
  )
})

describe('a mutation', () => {
  const CREATE = 'mutation($document: SubjectInput!, $key: String!) { createSubject(document: $document, idempotencyKey: $key) { id } }' // prettier-ignore

  it('of a role that may not do it is refused before its document is read', async () => {
    const { body } = await asker(service, clinic.tokens.auditor)(CREATE, { document: { sex: 'female', birthDate: 'never' }, key: uuidv7() }) // prettier-ignore
    expect(body.errors?.map(({ extensions }) => extensions.code)).toEqual(['FORBIDDEN'])
  })

  it.each(['', 'with a space', 'ü', 'x'.repeat(201)])('with the key %j is refused', async (key) => {
    const { body } = await asker(service, clinic.tokens.clinician)(CREATE, { document: { sex: 'female' }, key })
    expect(body.errors?.[0]?.extensions.problem.code).toBe('idempotency_key_required')
  })

  it('with a unit that is none is told which one is meant', async () => {
    const { body } = await asker(service, clinic.tokens.clinician)(CREATE, { document: { sex: 'female', height: { value: 171, unit: 'centimeter' } }, key: uuidv7() }) // prettier-ignore
    expect(body.errors?.[0]?.extensions.problem).toMatchObject({ code: 'unit_not_accepted', errors: [{ pointer: '#/height/unit', received: 'centimeter' }] }) // prettier-ignore
  })

  it('with a field that nobody knows is refused by the schema', async () => {
    const answer = await asker(service, clinic.tokens.clinician)(CREATE, { document: { sex: 'female', shoeSize: 41 }, key: uuidv7() }) // prettier-ignore
    expect([answer.status, answer.body.errors?.[0]?.extensions.code]).toEqual([400, 'BAD_OPERATION'])
  })

  it('after another shows what is there after it, though the first showed it as well', async () => {
    const { subjectId } = await makeIds(service, clinic)
    const query = `mutation($id: ID!, $subject: SubjectInput!, $episode: EpisodeInput!, $k: String!) {
      before: editSubject(id: $id, document: $subject, version: 1) { episodes { id } }
      made: createEpisode(document: $episode, idempotencyKey: $k) { id }
      after: editSubject(id: $id, document: $subject, version: 2) { episodes { id } } }`
    const variables = { id: subjectId, subject: { sex: 'female' }, episode: { subject: { id: subjectId }, joint: 'hip', involvedSide: 'left' }, k: uuidv7() } // prettier-ignore
    const { before, made, after } = await dataOf(asker(service, clinic.tokens.clinician)(query, variables))
    expect(before.episodes).not.toContainEqual(made)
    expect(after.episodes).toContainEqual(made)
  })

  it('beside another stands alone: one is refused, the other done', async () => {
    const query = `mutation($a: SubjectInput!, $b: SubjectInput!, $k: String!, $l: String!) { a: createSubject(document: $a, idempotencyKey: $k) { sex } b: createSubject(document: $b, idempotencyKey: $l) { sex } }` // prettier-ignore
    const variables = { a: { sex: 'female', birthDate: '2001-02-30' }, b: { sex: 'male' }, k: uuidv7(), l: uuidv7() }
    const { status, body } = await asker(service, clinic.tokens.clinician)(query, variables)
    expect([status, body.data, body.errors?.map(({ path }) => path)]).toEqual([200, { a: null, b: { sex: 'male' } }, [['a']]]) // prettier-ignore
  })
})

describe('when the log cannot be written', () => {
  it('nothing is shown and nothing stored: 503, as over REST', async () => {
    const ids = await makeIds(service, clinic)
    const before = await sql<{ n: number }>(service, 'select count(*)::int as n from subject where clinic_id = $1', [clinic.clinicId]) // prettier-ignore
    await sql(service, 'alter table audit_event add constraint broken check (false) not valid')
    try {
      const ask = asker(service, clinic.tokens.clinician)
      const read = await ask('query($id: ID!) { me { role } subject(id: $id) { name } }', { id: ids.subjectId })
      expect([read.status, read.body.data, read.body.errors?.[0]?.extensions.problem.code]).toEqual([503, null, 'audit_unavailable']) // prettier-ignore
      const written = await ask('mutation { createSubject(document: {sex: female}, idempotencyKey: "k") { id } }')
      expect([written.status, written.body.data]).toEqual([503, null])
      const unrun = await ask('{ nobodyKnows }')
      expect([read, written, unrun].map(({ headers }) => headers['retry-after'])).toEqual(['5', '5', '5'])
    } finally {
      await sql(service, 'alter table audit_event drop constraint broken')
    }
    const after = await sql<{ n: number }>(service, 'select count(*)::int as n from subject where clinic_id = $1', [clinic.clinicId]) // prettier-ignore
    expect(after).toEqual(before)
  })

  it('an earlier mutation of the operation stands, and a retry with the same keys brings the answers of both', async () => {
    const { subjectId } = await makeIds(service, clinic)
    const ask = asker(service, clinic.tokens.clinician)
    const query = `mutation($episode: EpisodeInput!, $k: String!, $l: String!) {
      first: createSubject(document: { sex: female }, idempotencyKey: $k) { id }
      second: createEpisode(document: $episode, idempotencyKey: $l) { id subjectId } }`
    const variables = { episode: { subject: { id: subjectId }, joint: 'knee', involvedSide: 'left' }, k: uuidv7(), l: uuidv7() } // prettier-ignore
    const subjects = async () => (await sql<{ id: string }>(service, 'select id::text from subject where clinic_id = $1', [clinic.clinicId])).map(({ id }) => id) // prettier-ignore
    const before = await subjects()
    await sql(service, `alter table audit_event add constraint broken check (action <> 'episodes.create') not valid`)
    try {
      const answer = await ask(query, variables)
      expect([answer.status, answer.body.data]).toEqual([503, null])
    } finally {
      await sql(service, 'alter table audit_event drop constraint broken')
    }
    const [made, ...more] = (await subjects()).filter((id) => !before.includes(id))
    expect([made, more]).toEqual([expect.any(String), []])
    expect(await dataOf(ask(query, variables))).toEqual({ first: { id: made }, second: { id: expect.any(String), subjectId } }) // prettier-ignore
    expect(await subjects()).toHaveLength(before.length + 1)
  })
})

/** One more fault than the shape of GraphQL can see: a text that is too long, a date that is none, a number out of range. */
function breakIt(document: LooseDocument): LooseDocument {
  const copy = structuredClone(document)
  const walk = (place: LooseDocument): void => {
    for (const [key, value] of Object.entries(place)) {
      if (['reason', 'note', 'name', 'teamReference', 'title'].includes(key) && typeof value === 'string')
        place[key] = 'x'.repeat(9_000) // prettier-ignore
      else if (['startedAt', 'on', 'observedOn', 'injuredOn', 'from'].includes(key)) place[key] = '2026-02-30'
      else if (typeof value === 'object' && value !== null) walk(value)
    }
  }
  walk(copy)
  return copy
}

function otherContent(name: string): LooseDocument {
  if (name === 'createSubject') return { sport: 'another' }
  if (name === 'createEpisode') return { condition: 'another' }
  if (name === 'recordConsent') return { displayName: 'Another' }
  if (name === 'pushSession' || name === 'recordObservation') return name === 'pushSession' ? { notes: 'another' } : { note: 'another' } // prettier-ignore
  return name.startsWith('sign') ? { note: 'another' } : { reason: 'Another.' }
}
