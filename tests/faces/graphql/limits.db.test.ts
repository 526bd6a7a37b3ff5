/** What is refused before anything runs, and how. */
import { createHash } from 'node:crypto'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { LIMITS } from '../../../src/faces/graphql/limits.ts'
import { forTeamsOnly, openDatabase, type Database } from '../../../src/tenancy/database.ts'
import { makeWorld, sql, worldIn, type World } from '../../application/sessions/documents.ts'
import { freshClinic, freshTeam, makeTestService, type Answer, type TestService } from '../../harness/clinic.ts'
import { countStatements } from '../../harness/count-statements.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asker, dataOf, type Ask, type GraphqlAnswer } from './ask.ts'

const database = await testDatabase()
const service = await makeTestService(database)
const PERSISTED = '{ me { role } }'
const KEY = createHash('sha256').update(PERSISTED).digest('hex')
const production = await makeTestService(database, { graphql: { introspection: false, persisted: null } as never })
const persisting = await makeTestService(database, { graphql: { introspection: false, persisted: { [KEY]: PERSISTED } } as never }) // prettier-ignore

let world: World
let ask: Ask
let token: string

beforeAll(async () => {
  world = await makeWorld(service)
  token = world.clinic.tokens.clinician
  ask = asker(service, token)
}, 60_000)

/** Without a statement to the database but those that say who asks, and that it was refused. */
async function refusedUnrun(query: string, variables?: Record<string, unknown>): Promise<Answer<GraphqlAnswer>> {
  const before = await sql<{ n: number }>(service, `select count(*)::int as n from audit_event where outcome = 'done'`)
  const answer = await ask(query, variables)
  const after = await sql<{ n: number }>(service, `select count(*)::int as n from audit_event where outcome = 'done'`)
  expect([answer.status, after[0]?.n]).toEqual([400, before[0]?.n])
  expect(answer.text.length).toBeLessThan(20_000)
  expect(answer.text).not.toMatch(/node_modules|at .*\.ts:|stack/)
  return answer
}

const codeOf = ({ body }: Answer<GraphqlAnswer>) => body.errors?.[0]?.extensions.problem.code

describe('an operation is refused before it runs', () => {
  it(`deeper than ${LIMITS.depth}`, async () => {
    const deep = '{ subjects { edges { node { sessions { edges { node { session { results { id } } } } } } } } }'
    expect(codeOf(await refusedUnrun(deep))).toBe('invalid_graphql')
    const fragments = `query { subjects { ...A } } fragment A on SubjectConnection { edges { node { sessions { edges { node { session { results { id } } } } } } } }` // prettier-ignore
    expect(codeOf(await refusedUnrun(fragments))).toBe('invalid_graphql')
    const endless = `query { subject(id: "x") { ...A } } fragment A on Subject { ...B } fragment B on Subject { ...A }`
    expect(codeOf(await refusedUnrun(endless))).toBe('invalid_graphql')
  })

  it('of five thousand levels', async () => {
    await refusedUnrun(`${'{ a '.repeat(5_000)}${'}'.repeat(5_000)}`)
  })

  it(`with more than ${LIMITS.aliases} aliases, and with twenty thousand`, async () => {
    const aliases = (n: number) => `{ ${Array.from({ length: n }, (_, i) => `a${i}: me { role }`).join(' ')} }`
    expect((await ask(aliases(LIMITS.aliases))).status).toBe(200)
    await refusedUnrun(aliases(LIMITS.aliases + 1))
    const flood = await ask(aliases(20_000))
    expect([flood.status, flood.text.length < 2_000]).toEqual([400, true])
  })

  it(`of more than ${LIMITS.tokens} tokens, whatever they say`, async () => {
    await refusedUnrun(`{ ${'me { role } '.repeat(300)} }`)
    await refusedUnrun(`{ subject(id: "x", list: [${'1,'.repeat(5_000)}]) { id } }`)
  })

  it(`dearer than ${LIMITS.cost}, counted with its variables`, async () => {
    const query = `query($first: Int) { subjects(first: $first) { edges { node { id episodes { id readiness { overall counts { met notMet notAssessable } } } sessions(first: 5) { edges { node { id } } } } } } }` // prettier-ignore
    expect((await ask(query, { first: 20 })).status).toBe(200)
    const dear = await refusedUnrun(query, { first: 200 })
    expect(dear.body.errors?.[0]).toMatchObject({
      extensions: { code: 'QUERY_TOO_COSTLY', problem: { code: 'query_too_costly', limit: LIMITS.cost } },
    })
    await refusedUnrun(query.replaceAll('first: 5', 'first: 200').replace('$first)', '100)').replace('query($first: Int) ', '')) // prettier-ignore
  })

  it('whose cost a page of less than nothing would pay for', async () => {
    const dear =
      'subjects(first: 200) { edges { node { id episodes { id readiness { overall } } sessions(first: 5) { edges { node { id } } } } } }'
    await refusedUnrun(`{ a: subjects(first: -100000) { edges { node { id } } } b: ${dear} }`)
  })

  it('with a page larger than a page may be', async () => {
    const answer = await ask('{ dynamometers(first: 201) { pageInfo { hasNextPage } } }')
    expect(answer.body.errors?.[0]?.extensions.problem).toMatchObject({ code: 'invalid_query', errors: [{ pointer: '#/query/first' }] }) // prettier-ignore
  })

  it('as a list of operations', async () => {
    const answer = await service.api(token).post('/graphql', [{ query: '{ me { role } }' }], { key: null })
    expect(answer.status).toBe(400)
  })

  it('as its syntax tree, which would go around the limit of tokens', async () => {
    const tree = { kind: 'Document', definitions: [] }
    for (const query of [tree, JSON.stringify(tree)]) {
      const answer = await service.api(token).post('/graphql', { query }, { key: null })
      expect(answer.status).toBe(400)
    }
  })

  it('with a NUL in a text', async () => {
    expect((await ask(String.raw`{ subjects(identifierSystem: "a\u0000", identifierValue: "b") { edges { cursor } } }`)).status).toBe(400) // prettier-ignore
    expect((await ask('query($s: String) { subjects(identifierSystem: $s, identifierValue: "b") { edges { cursor } } }', { s: 'a\0' })).status).toBe(400) // prettier-ignore
  })

  it.each([
    ['a key that occurs twice', '{"query":"{ me { role } }","query":"{ me { role } }"}', 'duplicate_key'],
    ['a key that nobody knows', '{"query":"{ me { role } }","clinicId":"x"}', 'unknown_field'],
    ['a query that is a number', '{"query":5}', 'invalid_document'],
    ['a key of a prototype', '{"query":"{ me { role } }","variables":{"__proto__":{}}}', 'invalid_json'],
    ['half a body', '{"query":', 'invalid_json'],
  ])('in a body with %s', async (_, bytes, code) => {
    const answer = await service.api(token).post('/graphql', undefined, { key: null, bytes })
    expect([answer.status, answer.body.code]).toEqual([400, code])
  })

  it.each([
    ['names another operation than its only one', { query: 'query A { me { role } }', operationName: 'B' }],
    ['names an operation where none has a name', { query: '{ me { role } }', operationName: 'B' }],
    ['names an operation by an empty name', { query: '{ me { role } }', operationName: '' }],
    ['names none of several', { query: 'query A { me { role } } query B { me { role } }' }],
    ['holds a number that is too large', { query: 'mutation { createSubject(document: { sex: female, height: { value: 1e999, unit: "cm" } }, idempotencyKey: "k") { id } }' }], // prettier-ignore
    ['holds a whole number that is too large', { query: `query { subject(id: "x") { strengthTrend(joint: knee, side: left, movement: extension, contractionMode: isokinetic_concentric, contractionScheme: reciprocal, velocity: "60 deg/s", measure: peakTorque, statistic: best, confidence: ${'9'.repeat(400)}) { points { at } } } }` }], // prettier-ignore
    ['leaves out a variable that it needs, and all others', { query: 'query($id: ID!) { subject(id: $id) { id } }' }],
    ['is a few fragments that become a million fields', { query: `{ subject(id: "x") { ...F0 } } ${Array.from({ length: 20 }, (_, n) => `fragment F${n} on Subject { ${n === 19 ? 'id' : `...F${n + 1} ...F${n + 1}`} }`).join(' ')}` }], // prettier-ignore
    ['is longer than anyone writes', { query: `{ me { role } } #${'x'.repeat(LIMITS.characters)}` }],
  ])('that %s', async (_what, body) => {
    const { status, body: told } = await service.api(token).post<GraphqlAnswer>('/graphql', body, { key: null })
    expect([status, told.errors?.map(({ extensions }) => extensions.code)]).toEqual([400, ['BAD_OPERATION']])
  })

  it('of no text', async () => {
    const fault = { code: 'missing', pointer: '#/query' }
    expect(await service.api(token).post('/graphql', {}, { key: null })).toMatchObject({ status: 400, body: { code: 'invalid_document', errors: [fault] } }) // prettier-ignore
    expect(await service.api(token).get('/graphql')).toMatchObject({ status: 400, body: { code: 'invalid_query', errors: [{ ...fault, pointer: '#/query/query' }] } }) // prettier-ignore
  })

  it('without a token, as over REST', async () => {
    const answer = await asker(service, null)('{ me { role } }')
    expect([answer.status, answer.headers['content-type'], answer.body]).toMatchObject([401, 'application/problem+json', { code: 'unauthenticated' }]) // prettier-ignore
  })

  it('that is no operation of the schema, with hints at names of the schema alone', async () => {
    const answer = await ask('{ subjcts { edges { cursor } } }')
    expect([answer.status, answer.body.errors?.[0]?.message]).toEqual([400, 'Cannot query field "subjcts" on type "Query". Did you mean "subjects" or "subject"?']) // prettier-ignore
  })
})

describe('over GET', () => {
  const get = (query: string, with_ = service) => with_.api(token).get(`/graphql?query=${encodeURIComponent(query)}`)

  it('a query is answered', async () => {
    expect(await get('{ me { role } }')).toMatchObject({ status: 200, body: { data: { me: { role: 'clinician' } } } })
  })

  it('a mutation is not, and does nothing', async () => {
    const answer = await get('mutation { createSubject(document: { sex: female }, idempotencyKey: "k-1") { id } }')
    // RFC 9110, 15.5.6: a 405 says what is allowed.
    expect([answer.status, answer.headers['allow']]).toEqual([405, 'POST'])
    const made = await sql<{ n: number }>(service, `select count(*)::int as n from subject where clinic_id = $1`, [world.clinic.clinicId]) // prettier-ignore
    expect(made[0]?.n).toBe(1)
  })

  it.each([
    ['names another operation than its only one', 'query A { me { role } }', 'B'],
    ['names an operation where none has a name', '{ me { role } }', 'B'],
    ['names none of several', 'query A { me { role } } query B { me { role } }', null],
  ])('a query is refused that %s', async (_what, query, name) => {
    const url = `/graphql?query=${encodeURIComponent(query)}${name === null ? '' : `&operationName=${name}`}`
    const { status, body } = await service.api(token).get<GraphqlAnswer>(url)
    expect([status, body.errors?.map(({ extensions }) => extensions.code)]).toEqual([400, ['BAD_OPERATION']])
  })

  it.each([
    ['text', '"x"', '#/query/variables'],
    ['a list', '[1]', '#/query/variables'],
    ['half an object', '{"s":', '#/query/variables'],
    ['an object with a key twice', '{"s":"a","s":"b"}', '#/query/variables'],
    ['an object with a NUL', String.raw`{"s":"a\u0000"}`, '#/query/variables'],
  ])('variables that are %s are refused', async (_what, variables, pointer) => {
    const query = 'query($s: String) { subjects(identifierSystem: $s, identifierValue: "b") { edges { cursor } } }'
    const url = (text: string) => `/graphql?query=${encodeURIComponent(query)}&variables=${encodeURIComponent(text)}`
    expect((await service.api(token).get(url('{"s":"a"}'))).body).toEqual({ data: { subjects: { edges: [] } } })
    const { status, body } = await service.api(token).get(url(variables))
    expect([status, body.code, body.errors[0].pointer]).toEqual([400, 'invalid_query', pointer])
  })

  it('a parameter that nobody knows is refused', async () => {
    expect((await service.api(token).get('/graphql?query=%7B%20me%20%7B%20role%20%7D%20%7D&clinic=x')).status).toBe(400)
  })
})

describe('in production', () => {
  const tokenOf = async (of: TestService) => (await freshClinic(of)).tokens.clinician

  it('the schema is not told', async () => {
    const query = '{ __schema { types { name } } }'
    expect((await ask(query)).status).toBe(200)
    const answer = await asker(production, await tokenOf(production))(query)
    expect([answer.status, codeOf(answer)]).toEqual([400, 'invalid_graphql'])
    const typename = await asker(production, await tokenOf(production))('{ me { __typename role } }')
    expect(typename.body.data).toEqual({ me: { __typename: 'ClinicMember', role: 'clinician' } })
  })

  it('where operations are persisted, those are run and no others', async () => {
    const api = persisting.api(await tokenOf(persisting))
    const send = (body: unknown) => api.post<GraphqlAnswer>('/graphql', body, { key: null })
    expect(await send({ extensions: { persistedQuery: { sha256Hash: KEY } } })).toMatchObject({ status: 200, body: { data: { me: { role: 'clinician' } } } }) // prettier-ignore
    for (const body of [
      { query: PERSISTED },
      { query: '{ subjects { edges { cursor } } }', extensions: { persistedQuery: { sha256Hash: 'x' } } },
      { extensions: { persistedQuery: { sha256Hash: 'toString' } } },
    ]) {
      // prettier-ignore
      const answer = await send(body)
      expect([answer.status, codeOf(answer)]).toEqual([400, 'query_not_persisted'])
    }
  })
})

describe('one operation', () => {
  it('has a few transactions at once, however many fields ask the database', async () => {
    const { db, seen } = counted(service.db)
    const counting = await makeTestService(database, { db })
    const token = await counting.mint({ sub: world.clinic.subs.clinician, clinic: world.clinic.clinicId })
    const trends = [30, 60, 90, 120, 180, 240, 300].map((velocity) => `v${velocity}: strengthTrend(joint: knee, side: left, movement: extension, contractionMode: isokinetic_concentric, contractionScheme: reciprocal, velocity: "${velocity} deg/s", measure: peakTorque, statistic: best) { points { at } }`) // prettier-ignore
    const query = `query($id: ID!) { subject(id: $id) { ${trends.join(' ')} episodes { id } series { joint } sessions { edges { cursor } } }
      workList { edges { cursor } } dynamometers { edges { cursor } } criteriaSets { key } invitedTeams { id } consents(subjectId: $id) { id } }`
    const { subject, criteriaSets } = await dataOf(asker(counting, token)(query, { id: world.subjectId }))
    expect([Object.keys(subject).length, criteriaSets.length > 0]).toEqual([10, true])
    expect(seen.all).toBeGreaterThan(14)
    expect(seen.most).toBe(4)
  })

  it('of a team has fewer still', async () => {
    const { db, seen } = counted(forTeamsOnly(openDatabase(database.teamUrl, { poolSize: 4 })))
    afterAll(() => db.close())
    const counting = await makeTestService(database, { teamDb: db })
    const { token } = await freshTeam(counting)
    const query = `{ team { ${Array.from({ length: 12 }, (_, n) => `s${n}: squad { asOf }`).join(' ')} } }`
    const { body } = await asker(counting, token)(query, {}, { Purpose: 'availability-planning' })
    expect(new Set(body.errors?.map(({ extensions }) => extensions.problem.code))).toEqual(new Set(['purpose_not_agreed'])) // prettier-ignore
    expect(seen).toEqual({ all: 12, most: 2, open: 0 })
  })
})

/** The same database, and how many of its transactions there were, and at once. */
function counted<D extends Database>(real: D): { db: D; seen: { all: number; most: number; open: number } } {
  const seen = { all: 0, most: 0, open: 0 }
  const transaction = async (...given: unknown[]): Promise<unknown> => {
    seen.all++
    seen.most = Math.max(seen.most, ++seen.open)
    try {
      return await (real.unsafeClient.$transaction as (...args: unknown[]) => Promise<unknown>)(...given)
    } finally {
      seen.open--
    }
  }
  const unsafeClient = Object.create(real.unsafeClient, { $transaction: { value: transaction } }) as D['unsafeClient']
  return { db: { ...real, unsafeClient }, seen }
}

describe('fifty subjects with their episodes and trends', () => {
  const QUERY = `query($first: Int) { subjects(first: $first) { edges { node { id
    episodes { id joint surgeryOn readiness(criteriaSet: "kyritsis-2016") { overall } }
    sessions(first: 1) { edges { node { id } } }
    strengthTrend(joint: knee, side: right, movement: extension, contractionMode: isokinetic_concentric, contractionScheme: reciprocal, velocity: "60 deg/s", measure: peakTorque, statistic: best) { points { at quantity { value unit } changeFromPrevious { verdict } } }
  } } } }`

  it('take a small number of statements, the same for five as for fifty', async () => {
    const clinic = await freshClinic(service)
    const machine = service.api(clinic.tokens.integration)
    for (let i = 0; i < 6; i++) await (await worldIn(service, clinic, `N-${i}`, {})).pushVisit('2026-11-10')
    for (let i = 6; i < 50; i++) {
      const { body } = await machine.post('/v1/subjects', { sex: i % 2 === 0 ? 'female' : 'male' })
      const episode = { subject: { id: body.id }, joint: 'knee', involvedSide: 'right', surgeryOn: '2026-02-10' }
      expect((await machine.post('/v1/episodes', episode)).status).toBe(201)
    }
    const many = asker(service, clinic.tokens.clinician)
    await dataOf(many(QUERY, { first: 1 }))
    const five = await countStatements(() => dataOf(many(QUERY, { first: 5 })))
    const fifty = await countStatements(() => dataOf(many(QUERY, { first: 50 })))
    expect(fifty.result.subjects.edges).toHaveLength(50)
    expect(fifty.result.subjects.edges[0].node.strengthTrend.points).toHaveLength(1)
    expect(fifty.result.subjects.edges.every(({ node }: { node: { episodes: unknown[] } }) => node.episodes.length === 1)).toBe(true) // prettier-ignore
    console.log(`SQL statements: ${five.statements} for 5 subjects, ${fifty.statements} for 50`)
    expect(fifty.statements).toBe(five.statements)
    expect(fifty.statements).toBeLessThanOrEqual(60)
    const events = await sql<{ action: string; n: number }>(service, `select action, cardinality(subject_ids)::int as n from audit_event where clinic_id = $1 order by id desc limit 5`, [clinic.clinicId]) // prettier-ignore
    expect(events.map(({ action, n }) => `${action} ${n}`).toSorted()).toEqual(['episodes.list 50', 'readiness.read 50', 'sessions.list 6', 'subjects.list 50', 'trends.read 50']) // prettier-ignore
  }, 120_000)
})
