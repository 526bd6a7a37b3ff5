/** What tests/faces/rest/isolation.db.test.ts asks of every route, asked of every field of the schema and each argument. */
import { randomBytes } from 'node:crypto'
import { v7 as uuidv7 } from 'uuid'
import { getNamedType, GraphQLID, isInputObjectType, isObjectType, type GraphQLNamedType } from 'graphql'
import { beforeAll, describe, expect, it } from 'vitest'
import { CLINIC_ROLES, type ClinicRole } from '../../../src/tenancy/actor.ts'
import { TABLE_CLASSES } from '../../../src/store/table-classes.ts'
import { sql } from '../../application/sessions/documents.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type Answer, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeIds, type Ids } from '../rest/route-recipes.ts'
import { asker, type GraphqlAnswer } from './ask.ts'
import { mutationArgs, mutationNames, operationsFor, queryArgs, queryNames, schema, type Operation } from './field-recipes.ts' // prettier-ignore

const now = new Date()
const service = await makeTestService(await testDatabase(), { clock: () => now })
const RECORDS = ['subjectId', 'episodeId', 'dynamometerId', 'sessionId', 'resultId', 'otherResultId', 'flagId', 'consentId', 'reportId'] as const // prettier-ignore

let mine: FreshClinic
let ids: Ids
let theirs: Ids
let canaries: string[]
let foreignIds: string[]
let untouched: string
let probes = 0

const tenantTables = Object.entries(TABLE_CLASSES).flatMap(([name, kind]) => (kind === 'tenant' ? [name] : []))

async function rowsOfTheirs(): Promise<string> {
  const hashes = tenantTables.map((name) => `select '${name}' || md5(coalesce(string_agg(t::text, '' order by t::text), '')) as h from ${name} t where clinic_id = $1`) // prettier-ignore
  const rows = await sql<{ h: string }>(service, hashes.join(' union all '), [theirs.world.clinic.clinicId])
  return rows.map(({ h }) => h).join('\n')
}

beforeAll(async () => {
  mine = await freshClinic(service)
  ids = await makeIds(service, mine, 'RB-mine')
  const clinic = await freshClinic(service)
  theirs = await makeIds(service, clinic, 'CANARY-number')
  foreignIds = [...RECORDS.map((record) => theirs[record]), clinic.clinicId, clinic.principals.clinician]
  canaries = [...foreignIds, theirs.recordingSha256, 'CANARY-number', clinic.name, ...Object.values(clinic.principals)]
  untouched = await rowsOfTheirs()
}, 120_000)

/** All of an answer but what is new in every answer. */
const seen = (answer: Answer<GraphqlAnswer>): string => `${answer.status} ${answer.text.replaceAll(/"requestId":"[^"]*"/g, '')}` // prettier-ignore

async function ask(role: ClinicRole, { query, variables }: Operation, headers = {}): Promise<Answer<GraphqlAnswer>> {
  probes++
  const answer = await asker(service, mine.tokens[role])(query, variables, headers)
  expect(answer.status, answer.text).toBeLessThan(500)
  // An operation that is refused before it runs probes nothing.
  expect(answer.body.errors?.map(({ extensions }) => extensions.problem.code) ?? []).not.toContain('invalid_graphql')
  // What was sent may come back in no answer either.
  const whole = `${answer.text} ${JSON.stringify(answer.headers)}`
  expect(canaries.filter((canary) => whole.includes(canary)), query).toEqual([]) // prettier-ignore
  return answer
}

async function probe(role: ClinicRole, foreign: Operation, missing: Operation): Promise<void> {
  const [got, expected] = [await ask(role, foreign), await ask(role, missing)]
  expect(seen(got), `${role} ${foreign.query} ${JSON.stringify(foreign.variables)}`).toEqual(seen(expected))
}

/** Arguments that take an id, of a field or anywhere in its documents. */
const idArguments = (type: 'Query' | 'Mutation', name: string): string[] => {
  const field = (type === 'Query' ? schema.getQueryType() : schema.getMutationType())?.getFields()[name]
  return (field?.args ?? []).filter((arg) => getNamedType(arg.type) === GraphQLID).map((arg) => arg.name)
}

/** With a key of its own, so that nothing is a retry. */
function mutate(name: string, args: Record<string, unknown>): Operation {
  const fresh = 'idempotencyKey' in args ? { ...args, idempotencyKey: uuidv7() } : args
  return operationsFor('mutation', name, fresh, ids)[0] as Operation
}

describe("another clinic's ids", { timeout: 180_000 }, () => {
  it.each(queryNames)('in the arguments of %s are ids of nothing', async (name) => {
    const args = queryArgs(name, ids)
    for (const argument of idArguments('Query', name)) {
      for (const role of CLINIC_ROLES) {
        const operations = (value: string) => operationsFor('query', name, { ...args, [argument]: value }, ids)
        const [missing] = operations(uuidv7()) as [Operation]
        const expected = seen(await ask(role, missing))
        for (const foreign of foreignIds) {
          for (const operation of operations(foreign).slice(0, role === 'owner' ? undefined : 1)) {
            const got = await ask(role, operation)
            if (operation.query === missing.query && name !== 'auditEvents') expect(seen(got)).toBe(expected)
          }
        }
      }
    }
  })

  it.each(mutationNames)('in %s are ids of nothing', async (name) => {
    const args = mutationArgs(name, ids)
    for (const argument of idArguments('Mutation', name)) {
      for (const role of CLINIC_ROLES) {
        const operation = (value: string) => mutate(name, { ...args, [argument]: value })
        for (const foreign of foreignIds) await probe(role, operation(foreign), operation(uuidv7()))
      }
    }
    for (const path of placesOf(args['document'] ?? {})) {
      for (const role of CLINIC_ROLES) {
        const operation = (value: string) => mutate(name, { ...args, document: put(args['document'], path, value) })
        for (const record of RECORDS) await probe(role, operation(theirs[record]), operation(uuidv7()))
        await probe(role, operation(theirs.recordingSha256), operation(randomBytes(32).toString('hex')))
      }
    }
  })

  it('in a cursor lead nowhere: what follows them is my own', async () => {
    const cursorAt = (id: string): string => Buffer.from(`v1:${id}`).toString('base64url')
    const beside = (id: string): string => id.slice(0, -1) + (parseInt(id.slice(-1), 16) ^ 1).toString(16)
    const pages = queryNames.filter((name) => schema.getQueryType()?.getFields()[name]?.args.some((arg) => arg.name === 'after')) // prettier-ignore
    expect(pages.length).toBeGreaterThan(5)
    for (const name of pages.filter((one) => one !== 'auditEvents')) {
      for (const role of CLINIC_ROLES) {
        for (const id of RECORDS.map((record) => theirs[record])) {
          const at = (cursor: string) => ({ query: `query($after: String) { ${name}(after: $after, first: 2) { edges { node { id } } pageInfo { hasNextPage } } }`, variables: { after: cursor } }) // prettier-ignore
          await probe(role, at(cursorAt(id)), at(cursorAt(beside(id))))
        }
      }
    }
  })

  it('and what else names a record of theirs, find nothing', async () => {
    const { number } = theirs.world
    const record = 'https://clinic.example/record-number'
    const visit = 'https://ehr.clinic.example/visit'
    const searches: readonly (readonly [query: string, foreign: object, nothing: object])[] = [
      ['query($s: String, $v: String) { subjects(identifierSystem: $s, identifierValue: $v) { edges { node { id name } } } }', { s: record, v: number }, { s: record, v: 'RB-none' }], // prettier-ignore
      ['query($s: String, $v: String) { sessions(externalIdSystem: $s, externalIdValue: $v) { edges { node { id } } } }', { s: visit, v: `V-${number}-1` }, { s: visit, v: 'V-none' }], // prettier-ignore
      ['query($id: ID!, $k: String) { episode(id: $id) { readiness(criteriaSet: $k, on: "2026-11-20") { overall } } }', { id: ids.episodeId, k: theirs.criteriaSetKey }, { id: ids.episodeId, k: 'own-none' }], // prettier-ignore
    ]
    for (const role of CLINIC_ROLES)
      for (const [query, foreign, nothing] of searches) await probe(role, { query, variables: { ...foreign } }, { query, variables: { ...nothing } }) // prettier-ignore
  })

  it('beside ids of my own change nothing of what is mine', async () => {
    const query = 'query($a: ID!, $b: ID!) { mine: subject(id: $a) { id name } theirs: subject(id: $b) { id name } }'
    for (const role of CLINIC_ROLES)
      await probe(role, { query, variables: { a: ids.subjectId, b: theirs.subjectId } }, { query, variables: { a: ids.subjectId, b: uuidv7() } }) // prettier-ignore
  })

  it('a key that they used is free for me', async () => {
    // The victim now does something itself: what came before has to have left its rows alone.
    expect(await rowsOfTheirs()).toBe(untouched)
    const key = uuidv7()
    const create = 'mutation($document: SubjectInput!, $key: String!) { createSubject(document: $document, idempotencyKey: $key) { id name } }' // prettier-ignore
    const send = (token: string, name: string) => asker(service, token)(create, { document: { name, sex: 'unknown' }, key }) // prettier-ignore
    const first = await send(theirs.world.clinic.tokens.clinician, 'CANARY-number')
    const own = await send(mine.tokens.clinician, 'Mine')
    expect([first.body.data.createSubject.name, own.body.data.createSubject.name]).toEqual(['CANARY-number', 'Mine'])
    untouched = await rowsOfTheirs()
  })
})

describe('the schema', () => {
  it('takes ids in root fields alone, where each is probed', () => {
    const others = Object.values(schema.getTypeMap())
      .filter((type: GraphQLNamedType) => isObjectType(type) && !type.name.startsWith('__'))
      .flatMap((type) => (isObjectType(type) ? Object.values(type.getFields()).map((field) => ({ type, field })) : []))
      .filter(({ type }) => !['Query', 'Mutation', 'Subscription', 'TeamView'].includes(type.name))
      .filter(({ field }) => field.args.some((arg) => getNamedType(arg.type) === GraphQLID || isInputObjectType(getNamedType(arg.type)))) // prettier-ignore
    expect(others.map(({ type, field }) => `${type.name}.${field.name}`)).toEqual([])
  })

  it('shows a team nothing but what is a team’s, and a clinic nothing of a team', async () => {
    const team = asker(service, ids.teamToken)
    for (const name of queryNames.filter((one) => one !== 'team')) {
      for (const { query, variables } of operationsFor('query', name, queryArgs(name, ids), ids)) {
        const { body } = await team(query, variables, { Purpose: 'availability-planning' })
        expect(body.errors?.map(({ extensions }) => extensions.code), name).toEqual(['FORBIDDEN']) // prettier-ignore
        expect(body.data?.[name] ?? null).toBeNull()
      }
    }
    for (const name of mutationNames) {
      const [operation] = operationsFor('mutation', name, mutationArgs(name, ids), ids) as [Operation]
      const { body } = await team(operation.query, operation.variables, { Purpose: 'availability-planning' })
      expect(body.errors?.map(({ extensions }) => extensions.code), name).toEqual(['FORBIDDEN']) // prettier-ignore
    }
    const squad = await asker(service, mine.tokens.owner)('{ team { squad { asOf } } }', {}, { Purpose: 'availability-planning' }) // prettier-ignore
    expect(squad.body.errors?.map(({ extensions }) => extensions.code)).toEqual(['FORBIDDEN'])
  })
})

describe('after all of it', () => {
  it('the rows of the other clinic are what they were, and no line of the log knows it', async () => {
    expect(await rowsOfTheirs()).toBe(untouched)
    const lines = service.logged().split('\n')
    expect(lines.filter((line) => canaries.some((canary) => line.includes(canary)))).toEqual([])
  })

  it('there were at least 1,500 probes', () => {
    console.log(
      `Isolation of GraphQL: ${probes} probes, ${queryNames.length + mutationNames.length} root fields, 5 roles`,
    )
    expect(probes).toBeGreaterThanOrEqual(1_500)
  })
})

/** Where a document points at a record of mine. */
function placesOf(document: LooseDocument): (string | number)[][] {
  const found: (string | number)[][] = []
  const walk = (value: unknown, path: (string | number)[]): void => {
    if (typeof value === 'object' && value !== null)
      for (const [key, inner] of Object.entries(value)) walk(inner, [...path, Array.isArray(value) ? Number(key) : key])
    else if ([...RECORDS.map((record) => ids[record]), ids.recordingSha256].includes(value as string)) found.push(path)
  }
  walk(document, [])
  return found
}

function put(document: LooseDocument, path: readonly (string | number)[], value: unknown): LooseDocument {
  const copy = structuredClone(document)
  let place = copy
  for (const step of path.slice(0, -1)) place = place[step]
  place[path.at(-1) ?? ''] = value
  return copy
}
