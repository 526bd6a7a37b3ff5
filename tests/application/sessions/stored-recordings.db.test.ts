/** A document that refers to a recording the clinic has already: for the one who amends a visit by hand. */
import { createHash } from 'node:crypto'
import { beforeAll, describe, expect, it } from 'vitest'
import { SESSION_LIMITS } from '../../../src/domain/session-document.ts'
import { asker, dataOf, type GraphqlAnswer } from '../../faces/graphql/ask.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService, type Answer } from '../../harness/clinic.ts'
import { countStatements } from '../../harness/count-statements.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, rowCounts, seen, sql, worldIn, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
let other: World
let seeds = 0

beforeAll(async () => {
  world = await makeWorld(service)
  other = await makeWorld(service)
}, 60_000)

/** Of samples that no other visit has. */
const withSamples = (of: World, day: string): LooseDocument => recorded(of.visit(day), (seeds += 10))

const hashOf = (results: readonly LooseDocument[], set: string): string =>
  results.find((one) => one.set === set)?.method.recordingSha256

/** The document without its samples: they are under the hashes that the results name. */
function byReference(document: LooseDocument, results: readonly LooseDocument[]): LooseDocument {
  const copy = structuredClone(document)
  for (const set of copy.sets) {
    const { channels: _channels, sampleRate: _rate, ...declared } = set.recording
    set.recording = { ...declared, storedSha256: hashOf(results, set.key) }
  }
  return copy
}

/** Each limb's recordings belong to the other one. */
function otherSide(document: LooseDocument): LooseDocument {
  const copy = structuredClone(document)
  for (const set of copy.sets) set.setup = set.setup === 'left-knee' ? 'right-knee' : 'left-knee'
  return copy
}

const withoutIds = (results: readonly LooseDocument[]) => results.map(({ id: _id, ...rest }) => rest)

const amend = (at: World, sessionId: string, session: LooseDocument, version = 1) =>
  at.clinician.post(`/v1/sessions/${sessionId}/amendments`, { reason: 'Corrected.', session }, { headers: { 'if-match': `"${version}"` } }) // prettier-ignore

const AMEND = `mutation($id: ID!, $version: Int!, $document: AmendmentInput!) {
  amendSession(sessionId: $id, version: $version, document: $document) { session { id version } results { set side movement } }
}`
const PUSH = `mutation($document: SessionInput!, $key: String!) { pushSession(document: $document, idempotencyKey: $key) { session { id } } }`
const ask = (query: string, variables: Record<string, unknown>): Promise<Answer<GraphqlAnswer>> =>
  asker(service, world.clinic.tokens.clinician)(query, variables)

const read = async (sessionId: string) => (await world.clinician.get(`/v1/sessions/${sessionId}`)).body

/** Of a visit with the same samples, of somebody about whom nothing else is known either. */
async function pushedWhole(document: LooseDocument): Promise<LooseDocument> {
  const twin = await worldIn(service, world.clinic, `twin-${(seeds += 10)}`)
  const { externalId, subject, episode, dynamometer } = twin.visit('2026-11-01')
  return (await twin.push({ ...structuredClone(document), externalId, subject, episode, dynamometer })).body
}

describe('an amendment that refers to the recordings of the visit', { timeout: 60_000 }, () => {
  it('files them under the other side, to the last bit as if the samples had been sent again', async () => {
    const document = withSamples(world, '2026-03-02')
    const { session, results } = (await world.push(document)).body
    const corrected = otherSide(document)
    const body = byReference(corrected, results)
    expect(JSON.stringify(body).length).toBeLessThan(10_000)
    const amended = await amend(world, session.id, body)
    expect(amended.status, amended.text).toBe(200)
    const expected = await pushedWhole(corrected)
    expect(withoutIds(amended.body.results)).toEqual(withoutIds(expected.results))
    expect(amended.body.results.map((one: LooseDocument) => [one.set, one.side])).not.toEqual(results.map((one: LooseDocument) => [one.set, one.side])) // prettier-ignore
  })

  it('does the same over GraphQL, where what was sent is read back as a reference', async () => {
    const document = withSamples(world, '2026-03-03')
    const { session, results } = (await world.push(document)).body
    const corrected = otherSide(document)
    const variables = { id: session.id, version: 1, document: { reason: 'Other side.', session: byReference(corrected, results) } } // prettier-ignore
    const { amendSession } = await dataOf(ask(AMEND, variables))
    expect(amendSession.session).toEqual({ id: session.id, version: 2 })
    const stored = await read(session.id)
    expect(withoutIds(stored.results)).toEqual(withoutIds((await pushedWhole(corrected)).results))

    const query = 'query($id: ID!) { session(id: $id) { sent { sets { recording { encoding storedSha256 sha256 sampleCount channels { name unit } } } } } }' // prettier-ignore
    const shown = (await dataOf(ask(query, { id: session.id }))).session.sent.sets[0].recording
    const sha256 = hashOf(results, 'left-60')
    expect(shown).toEqual({
      encoding: 'stored',
      storedSha256: sha256,
      sha256,
      sampleCount: document.sets[0].recording.channels[0].values.length,
      channels: [
        { name: 'torque', unit: 'N.m' },
        { name: 'angle', unit: 'deg' },
        { name: 'velocity', unit: 'deg/s' },
      ],
    })
    expect(stored.document.sets[0].recording).toMatchObject(shown)
  })

  it('corrects a sign that was mistaken: the same samples, stored under the hash that they make with it', async () => {
    const document = withSamples(world, '2026-03-04')
    const { session, results } = (await world.push(document)).body
    const turned = structuredClone(document)
    turned.sets[0].recording.torquePositive = 'flexion'
    const amended = await amend(world, session.id, byReference(turned, results))
    expect(amended.status, amended.text).toBe(200)
    expect(withoutIds(amended.body.results)).toEqual(withoutIds((await pushedWhole(turned)).results))
    const [before, after] = [hashOf(results, 'left-60'), hashOf(amended.body.results, 'left-60')]
    expect(after).not.toBe(before)
    expect((await read(session.id)).document.sets[0].recording).toMatchObject({ storedSha256: before, sha256: after })
    const recording = async (query: string) => (await world.clinician.get(`/v1/sessions/${session.id}/sets/left-60/recording${query}`)).body // prettier-ignore
    const [first, now] = [await recording('?version=1'), await recording('')]
    expect([first.sha256, first.header.torquePositive]).toEqual([before, 'extension'])
    expect([now.sha256, now.header.torquePositive]).toEqual([after, 'flexion'])
    expect(now.channels).toEqual(first.channels)
  })
})

describe('a visit that refers to recordings of another one', { timeout: 60_000 }, () => {
  it('has their values, and stores no samples; the very same document again is the same visit', async () => {
    const first = withSamples(world, '2026-04-02')
    const { results } = (await world.push(first)).body
    const recordings = async () => (await rowCounts(service))['recording']
    const stored = await recordings()
    const document = { ...byReference(first, results), externalId: world.visit('2026-04-02').externalId }
    const pushed = await world.push(document)
    expect(await recordings()).toBe(stored)
    expect(pushed.body.results.map((one: LooseDocument) => [one.set, one.movement, one.measures])).toEqual(
      results.map((one: LooseDocument) => [one.set, one.movement, one.measures]),
    )
    const again = await world.machine.post('/v1/sessions', document)
    expect([again.status, again.body]).toEqual([200, pushed.body])
    const whole = await world.machine.post('/v1/sessions', { ...first, externalId: document.externalId })
    expect([whole.status, whole.body.code]).toEqual([409, 'external_id_conflict'])
    expect(whole.body.differs).toContain('#/sets/0/recording/storedSha256')
  })

  it('beside reported values takes only what it refers to', async () => {
    const first = withSamples(world, '2026-04-03')
    const { results } = (await world.push(first)).body
    const document = world.visit('2026-04-04')
    document.sets[1] = { ...byReference(first, results).sets[1] }
    const key = { key: `by-reference-${(seeds += 10)}` }
    const { pushSession } = await dataOf(ask(PUSH, { document, ...key }))
    const stored = await read(pushSession.session.id)
    expect(stored.results.map((one: LooseDocument) => one.origin)).toEqual(['reported', 'reported', 'computed', 'computed']) // prettier-ignore
    expect(await dataOf(ask(PUSH, { document, ...key }))).toEqual({ pushSession })
  })

  it('with one recording under both limbs is held: the file was taken twice', async () => {
    const first = withSamples(world, '2026-04-05')
    const { results } = (await world.push(first)).body
    const document = byReference(first, results)
    document.externalId = world.visit('2026-04-05').externalId
    document.sets[1].recording.storedSha256 = document.sets[0].recording.storedSha256
    const { flags } = (await world.push(document)).body
    expect(flags.filter(({ code }: LooseDocument) => code === 'recording_repeated').length).toBeGreaterThan(1)
  })

  it('tried out answers what the push answers, and stores nothing', async () => {
    const first = withSamples(world, '2026-04-06')
    const { results } = (await world.push(first)).body
    const document = { ...byReference(first, results), externalId: world.visit('2026-04-06').externalId }
    const before = await rowCounts(service)
    const tried = await world.machine.post('/v1/calculations/session-check', document, { key: null })
    expect(tried.status, tried.text).toBe(200)
    expect(await rowCounts(service)).toEqual(before)
    expect(withoutIds(tried.body.results)).toEqual(withoutIds((await world.push(document)).body.results))
  })

  it('takes as many statements more for two recordings as for one', async () => {
    const first = withSamples(world, '2026-04-07')
    const { results } = (await world.push(first)).body
    const counted = async (sets: number) => {
      const { externalId } = world.visit('2026-04-07')
      const document = byReference(first, results)
      document.sets = document.sets.slice(0, sets)
      return (await countStatements(() => world.push({ ...document, externalId }))).statements
    }
    expect(await counted(2)).toBe(await counted(1))
  })
})

describe('the event of a document that refers to recordings', { timeout: 60_000 }, () => {
  /** Of the newest event of an action: which recordings it names. */
  const named = async (action: string): Promise<string[]> => {
    const [event] = await sql<{ resource_ids: string[] }>(
      service,
      'select resource_ids from audit_event where clinic_id = $1 and action = $2 order by ord desc limit 1',
      [world.clinic.clinicId, action],
    )
    return event!.resource_ids.filter((one) => one.startsWith('recording/')).sort()
  }

  it('names each of them, whether it was pushed, amended or tried out; of samples that were sent there is none', async () => {
    const first = withSamples(world, '2026-04-09')
    const { session, results } = (await world.push(first)).body
    expect(await named('sessions.push')).toEqual([])
    const both = ['left-60', 'right-60'].map((set) => `recording/${hashOf(results, set)}`).sort()

    await amend(world, session.id, otherSide(byReference(first, results)))
    expect(await named('sessions.amend')).toEqual(both)
    const one = { ...byReference(first, results), externalId: world.visit('2026-04-09').externalId }
    one.sets.pop()
    await world.machine.post('/v1/calculations/session-check', one, { key: null })
    expect(await named('sessions.check')).toEqual([`recording/${hashOf(results, 'left-60')}`])
    await world.push(one)
    expect(await named('sessions.push')).toEqual([`recording/${hashOf(results, 'left-60')}`])
  })
})

describe('a reference to a recording', { timeout: 60_000 }, () => {
  const NOBODYS = createHash('sha256').update('samples that nobody sent').digest('hex')
  const OF_NOTHING = createHash('sha256').digest('hex')
  let mine: LooseDocument
  let sessionId: string
  let theirs: string

  beforeAll(async () => {
    const document = withSamples(world, '2026-05-02')
    const { session, results } = (await world.push(document)).body
    sessionId = session.id
    mine = byReference(document, results)
    theirs = hashOf((await other.push(withSamples(other, '2026-05-02'))).body.results, 'left-60')
  }, 60_000)

  const pointingAt = (storedSha256: string): LooseDocument => {
    const document = structuredClone(mine)
    document.sets[1].recording.storedSha256 = storedSha256
    return document
  }
  const anew = (storedSha256: string) => ({ ...pointingAt(storedSha256), externalId: { system: 'x', value: 'anew' } })

  const WAYS: Readonly<Record<string, readonly [pointer: string, send: (hash: string) => Promise<Answer<LooseDocument>>]>> = {
    'a push': ['#/sets/1', (hash) => world.machine.post('/v1/sessions', anew(hash))],
    'a dry run': ['#/sets/1', (hash) => world.machine.post('/v1/calculations/session-check', anew(hash), { key: null })],
    'an amendment': ['#/session/sets/1', (hash) => amend(world, sessionId, pointingAt(hash))],
  } // prettier-ignore

  it.each(Object.entries(WAYS))(
    'of another clinic is one to nothing, byte for byte, in %s; so is the hash of nothing',
    async (_name, [pointer, send]) => {
      const before = await rowCounts(service)
      const missing = await send(NOBODYS)
      expect([missing.status, missing.body.code]).toEqual([422, 'reference_not_found'])
      expect(missing.body.errors).toMatchObject([{ pointer: `${pointer}/recording/storedSha256`, code: 'reference_not_found' }]) // prettier-ignore
      for (const hash of [theirs, OF_NOTHING]) expect(seen(await send(hash))).toEqual(seen(missing))
      expect(await rowCounts(service)).toEqual(before)
    },
  )

  it('of another clinic is one to nothing over GraphQL as well', async () => {
    const sent = async (hash: string) => {
      const answers = [
        await ask(PUSH, { document: anew(hash), key: 'one-to-nothing' }),
        await ask(AMEND, { id: sessionId, version: 1, document: { reason: 'Other.', session: pointingAt(hash) } }),
      ]
      return answers.map(seen)
    }
    const missing = await sent(NOBODYS)
    expect(JSON.stringify(missing)).toContain('#/session/sets/1/recording/storedSha256')
    expect(await sent(theirs)).toEqual(missing)
  })

  it('is found where both clinics have the same samples, each its own', async () => {
    const document = withSamples(world, '2026-05-03')
    const { results } = (await world.push(document)).body
    const { externalId, subject, episode, dynamometer } = other.visit('2026-05-03')
    const same = { ...byReference(document, results), externalId, subject, episode, dynamometer }
    expect((await other.machine.post('/v1/sessions', same)).status).toBe(422)
    await other.push({ ...document, ...{ subject, episode, dynamometer }, externalId: other.visit('2026-05-03').externalId }) // prettier-ignore
    expect((await other.machine.post('/v1/sessions', same)).status).toBe(201)
  })

  it('to nothing is told together with every other reference to nothing', async () => {
    const { externalId } = world.visit('2026-05-04')
    const { body } = await world.machine.post('/v1/sessions', { ...pointingAt(NOBODYS), externalId, subject: { id: '01a1e991-aa00-78b4-a652-e44da7f29e26' } }) // prettier-ignore
    expect(body.errors.map(({ pointer }: LooseDocument) => pointer)).toEqual(['#/subject', '#/sets/1/recording/storedSha256']) // prettier-ignore
  })

  it('to nothing under an external id that is taken says that first, as any other would', async () => {
    const { status, body } = await world.machine.post('/v1/sessions', pointingAt(NOBODYS))
    expect([status, body.code]).toEqual([409, 'external_id_conflict'])
  })

  it('is one to nothing once the person was erased', async () => {
    const gone = await worldIn(service, world.clinic, 'gone')
    const document = withSamples(gone, '2026-05-05')
    const { results } = (await gone.push(document)).body
    const { externalId, subject, episode, dynamometer } = world.visit('2026-05-05')
    const again = { ...byReference(document, results), externalId, subject, episode, dynamometer }
    const check = () => world.machine.post('/v1/calculations/session-check', again, { key: null })
    expect((await check()).status).toBe(200)
    const erased = await world.owner.post(`/v1/subjects/${gone.subjectId}/erasure`, { ground: 'subject_request', subjectId: gone.subjectId }) // prettier-ignore
    expect(erased.body.erased?.recordings ?? erased.body, erased.text).toEqual(2)
    const { status, body } = await check()
    expect([status, body.errors.map(({ pointer }: LooseDocument) => pointer)]).toEqual([422, ['#/sets/0/recording/storedSha256', '#/sets/1/recording/storedSha256']]) // prettier-ignore
  })

  it('to more samples than one document may have is refused before their bytes are read', async () => {
    const hash = createHash('sha256').update('a long one').digest('hex')
    const header = { channels: ['torque', 'angle'], sampleCount: SESSION_LIMITS.samplesPerDocument / 2 + 1 }
    await sql(
      service,
      `insert into recording (clinic_id, sha256, header, sample_count, sample_rate_hz) values ($1, decode($2, 'hex'), $3, $4, 1000)`,
      [world.clinic.clinicId, hash, JSON.stringify(header), header.sampleCount],
    )
    const pushed = await world.machine.post('/v1/sessions', anew(hash))
    expect([pushed.status, pushed.body.errors]).toMatchObject([400, [{ pointer: '#/sets', code: 'too_many' }]])
    const amended = await amend(world, sessionId, pointingAt(hash))
    expect([amended.status, amended.body.errors]).toMatchObject([400, [{ pointer: '#/session/sets', code: 'too_many' }]]) // prettier-ignore
  })
})
