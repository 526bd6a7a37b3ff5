/**
 * Reads of many records at once, each held against what REST answers for one: the same words, one event that names everyone
 * shown, and as many statements for thirty as for one.
 */
import { v7 as uuidv7 } from 'uuid'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Context } from '../../src/application/context.ts'
import { getEpisodes } from '../../src/application/episodes/get-episodes.ts'
import { listEpisodesOfSubjects } from '../../src/application/episodes/list-episodes-of-subjects.ts'
import { listObservationsOfEpisodes } from '../../src/application/observations/list-observations-of-episodes.ts'
import { createPreparationPool } from '../../src/application/prepare-session/pool.ts'
import { assessReadinessOfEpisodes } from '../../src/application/readiness/assess-readiness-of-episodes.ts'
import { listReportsOfEpisodes } from '../../src/application/reports/list-reports-of-episodes.ts'
import { getResults } from '../../src/application/results/get-results.ts'
import { listResultsOfSessions } from '../../src/application/results/list-results-of-sessions.ts'
import { listSeriesOfSubjects } from '../../src/application/series/list-series-of-subjects.ts'
import { getSessions } from '../../src/application/sessions/get-sessions.ts'
import { listSessionsOfSubjects } from '../../src/application/sessions/list-sessions-of-subjects.ts'
import { MOST_IN_A_BATCH } from '../../src/application/shared/batch.ts'
import { getSubjects } from '../../src/application/subjects/get-subjects.ts'
import { readSymmetries } from '../../src/application/symmetry/read-symmetries.ts'
import { readTrends } from '../../src/application/trends/read-trends.ts'
import { AppError } from '../../src/domain/errors.ts'
import { makeKeyRingText, readKeyRing } from '../../src/ledger/subject-keys.ts'
import type { ClinicRole } from '../../src/tenancy/actor.ts'
import { actorOf } from '../../src/tenancy/authenticate.ts'
import type { Action } from '../../src/tenancy/policy.ts'
import type { LooseDocument } from '../fixtures/example-session.ts'
import { ISSUER, makeTestService, type FreshClinic } from '../harness/clinic.ts'
import { countStatements } from '../harness/count-statements.ts'
import { episodeBody, idOf, subjectBody } from '../harness/samples.ts'
import { hopsOf, NOTE } from '../harness/sharing-clinic.ts'
import { testDatabase } from '../harness/test-database.ts'
import { makeWorld, seriesQuery, sql, worldIn, type World } from './sessions/documents.ts'

const MANY = 30
const SET = 'kyritsis-2016'
const ON = '2026-06-20'
const SERIES = { joint: 'knee', movement: 'extension', contractionMode: 'isokinetic_concentric', contractionScheme: 'reciprocal', velocityDegS: 60 } as const // prettier-ignore
const MEASURE = { measure: 'peakTorque', statistic: 'best', confidence: 0.95 } as const
const SYMMETRY = { ...MEASURE, series: SERIES, from: null, to: null, comparability: null } as const
const TREND = { ...SYMMETRY, side: 'right', threshold: { value: 176.3, unit: 'N.m' } } as const

const pool = createPreparationPool({ threads: 1, maxQueue: 100, timeLimitMs: 30_000 })
const subjectKeys = readKeyRing(makeKeyRingText())
const service = await makeTestService(await testDatabase(), { pool, subjectKeys })
afterAll(() => pool.close())

type Kind = 'subject' | 'episode' | 'session' | 'result'
type Ids = Readonly<Record<Kind, readonly string[]>>

let first: World
/** Of the clinic: several shapes of record first, then people with one ordinary visit. */
let own: Ids
/** Of another clinic. */
let foreign: Ids
/** Whose each record is. */
let owner: ReadonlyMap<string, string>
let knownAt: Date

beforeAll(async () => {
  first = await makeWorld(service)
  const of = (number: string, options: Parameters<typeof worldIn>[3] = {}) =>
    worldIn(service, first.clinic, number, { calibrated: false, ...options })

  // Two visits with functional tests, one of them held back, an observation that was replaced, a signed report.
  await first.pushVisit('2026-01-12', { extension: { left: 176, right: 171 } })
  await first.pushVisit('2026-06-02', { change: (d) => (d.functionalResults = hopsOf(431)) })
  await first.pushVisit('2026-06-15', { velocitiesDegS: [60, 180], change: (d) => (d.screening.pain.during.value = 6) })
  const observation = { key: 'on_field_rehabilitation', value: 'completed', observedOn: '2026-06-10' }
  idOf(await first.clinician.post(`/v1/episodes/${first.episodeId}/observations`, { ...observation, value: 'not_completed' })) // prettier-ignore
  idOf(await first.clinician.post(`/v1/episodes/${first.episodeId}/observations`, observation))
  idOf(await first.clinician.post(`/v1/episodes/${first.episodeId}/reports`, { criteriaSet: { key: SET }, on: ON, decision: 'continue_rehabilitation', note: NOTE })) // prettier-ignore

  // Both limbs involved; one limb tested; a published set named.
  const bilateral = await of('RB-2', { episode: (e) => Object.assign(e, { involvedSide: 'bilateral', criteriaSet: { key: SET, version: 1 } }) }) // prettier-ignore
  await bilateral.pushVisit('2026-06-03', { sides: ['right'] })
  // A set of the clinic's own named, and two episodes of one knee.
  expect((await first.clinician.post('/v1/criteria-sets', ownSet)).status).toBe(201)
  const twice = await of('RB-3', { episode: (e) => Object.assign(e, { criteriaSet: { key: ownSet.key, version: 1 } }) })
  await twice.pushVisit('2026-06-04', { change: (d) => (d.functionalResults = hopsOf(470)) })
  idOf(await twice.machine.post('/v1/episodes', { ...episodeBody(twice.subjectId, 'C-RB-3-again'), precautions: [], involvedSide: 'left' })) // prettier-ignore
  // No visit; and no episode either.
  await of('RB-4')
  idOf(await first.machine.post('/v1/subjects', subjectBody('RB-5')))

  for (let n = 6; n <= MANY; n++) await (await of(`RB-${n}`)).pushVisit('2026-06-05', { extension: { left: 170, right: 100 + n } }) // prettier-ignore
  const other = await makeWorld(service)
  await other.pushVisit('2026-06-02')

  const all = await recordsOf(first.clinic)
  own = idsOf(all)
  owner = new Map(all.map(({ id, subjectId }) => [id, subjectId]))
  foreign = idsOf(await recordsOf(other.clinic))
  knownAt = new Date()
}, 240_000)

const ownSet = {
  key: 'stage-two',
  title: 'Our stage two',
  citation: 'This clinic, stage plan of 2026',
  population: { description: 'Our own people', sex: null, sportLevels: null, ageYears: null },
  rule: { kind: 'all' },
  criteria: [
    {
      kind: 'functional_symmetry', key: 'single-hop', measure: 'singleHopSymmetry', expression: 'symmetry',
      test: 'single_hop_distance', betterWhen: 'higher', comparator: '>=', threshold: { value: 80, unit: '%' }, maximumAgeDays: 28,
    },
  ],
  limits: 'A habit of this clinic.',
  fromMemory: 'Nothing.',
} // prettier-ignore

interface RecordOf {
  readonly kind: Kind
  readonly id: string
  readonly subjectId: string
}

const recordsOf = (clinic: FreshClinic): Promise<RecordOf[]> =>
  sql<RecordOf>(
    service,
    `select 'subject' as kind, id, id as "subjectId" from subject where clinic_id = $1
     union all select 'episode', id, subject_id from episode where clinic_id = $1
     union all select 'session', id, subject_id from session where clinic_id = $1
     union all select 'result', id, subject_id from set_result where clinic_id = $1
     order by id`,
    [clinic.clinicId],
  )

function idsOf(records: readonly RecordOf[]): Ids {
  const of = (kind: Kind) => records.filter((row) => row.kind === kind).map(({ id }) => id)
  return { subject: of('subject'), episode: of('episode'), session: of('session'), result: of('result') }
}

interface Batch {
  readonly name: string
  readonly action: Action
  readonly of: Kind
  readonly read: (ctx: Context, ids: readonly string[]) => Promise<readonly unknown[]>
  /** Where REST answers the same for one. */
  readonly url: (id: string) => string
  /** What of the REST answer is meant. */
  readonly part?: 'items'
  /** What stands for an id of nothing. */
  readonly absent: unknown
  /** The one record of which every statement finds something. */
  readonly richest: () => string
  /** In all: begin, setting, what is read, event, commit. */
  readonly statements: number
}

const kept = () => `asKnownAt=${encodeURIComponent(knownAt.toISOString())}`
const readinessOf =
  (criteriaSet: { key: string; version: null } | null) => (ctx: Context, episodeIds: readonly string[]) =>
    assessReadinessOfEpisodes(ctx, { episodeIds, criteriaSet, on: ON, asKnownAt: knownAt })

const BATCHES: readonly Batch[] = [
  {
    name: 'subjects',
    action: 'subjects.read',
    of: 'subject',
    read: (ctx, subjectIds) => getSubjects(ctx, { subjectIds }),
    url: (id) => `/v1/subjects/${id}`,
    absent: null,
    richest: () => first.subjectId,
    statements: 5,
  },
  {
    name: 'episodes of subjects',
    action: 'episodes.list',
    of: 'subject',
    read: (ctx, subjectIds) => listEpisodesOfSubjects(ctx, { subjectIds }),
    url: (id) => `/v1/subjects/${id}/episodes`,
    part: 'items',
    absent: [],
    richest: () => first.subjectId,
    statements: 7,
  },
  {
    name: 'episodes',
    action: 'episodes.read',
    of: 'episode',
    read: (ctx, episodeIds) => getEpisodes(ctx, { episodeIds }),
    url: (id) => `/v1/episodes/${id}`,
    absent: null,
    richest: () => first.episodeId,
    statements: 6,
  },
  {
    name: 'trends',
    action: 'trends.read',
    of: 'subject',
    read: (ctx, subjectIds) => readTrends(ctx, { ...TREND, subjectIds, asKnownAt: knownAt }),
    url: (id) => `/v1/subjects/${id}/trend?${seriesQuery({ side: 'right', threshold: '176.3 N.m' })}&${kept()}`,
    absent: null,
    richest: () => first.subjectId,
    statements: 11,
  },
  {
    name: 'symmetries',
    action: 'symmetry.read',
    of: 'subject',
    read: (ctx, subjectIds) => readSymmetries(ctx, { ...SYMMETRY, subjectIds, asKnownAt: knownAt }),
    url: (id) => `/v1/subjects/${id}/symmetry?${seriesQuery()}&${kept()}`,
    absent: null,
    richest: () => first.subjectId,
    statements: 11,
  },
  {
    name: 'readiness by one set',
    action: 'readiness.read',
    of: 'episode',
    read: readinessOf({ key: SET, version: null }),
    url: (id) => `/v1/episodes/${id}/readiness?criteriaSet=${SET}&on=${ON}&${kept()}`,
    absent: null,
    richest: () => first.episodeId,
    statements: 16,
  },
  {
    name: 'readiness by the set that each episode names, or by none',
    action: 'readiness.read',
    of: 'episode',
    read: readinessOf(null),
    url: (id) => `/v1/episodes/${id}/readiness?on=${ON}&${kept()}`,
    absent: null,
    richest: () => own.episode[2]!,
    statements: 17,
  },
  {
    name: 'sessions of subjects',
    action: 'sessions.list',
    of: 'subject',
    read: (ctx, subjectIds) => listSessionsOfSubjects(ctx, { subjectIds, page: { limit: 2, after: null } }),
    url: (id) => `/v1/sessions?subjectId=${id}&limit=2`,
    absent: { items: [], nextCursor: null },
    richest: () => first.subjectId,
    statements: 5,
  },
  {
    name: 'sessions',
    action: 'sessions.read',
    of: 'session',
    read: (ctx, sessionIds) => getSessions(ctx, { sessionIds }),
    url: (id) => `/v1/sessions/${id}`,
    absent: null,
    richest: () => ofFirst('session'),
    statements: 16,
  },
  {
    name: 'results of sessions',
    action: 'results.read',
    of: 'session',
    read: (ctx, sessionIds) => listResultsOfSessions(ctx, { sessionIds }),
    url: (id) => `/v1/sessions/${id}/results`,
    absent: null,
    richest: () => ofFirst('session'),
    statements: 8,
  },
  {
    name: 'results',
    action: 'results.read',
    of: 'result',
    read: (ctx, resultIds) => getResults(ctx, { resultIds }),
    url: (id) => `/v1/results/${id}`,
    absent: null,
    richest: () => ofFirst('result'),
    statements: 7,
  },
  {
    name: 'reports of episodes',
    action: 'reports.list',
    of: 'episode',
    read: (ctx, episodeIds) => listReportsOfEpisodes(ctx, { episodeIds }),
    url: (id) => `/v1/episodes/${id}/reports`,
    part: 'items',
    absent: [],
    richest: () => first.episodeId,
    statements: 9,
  },
  {
    name: 'series of subjects',
    action: 'series.list',
    of: 'subject',
    read: (ctx, subjectIds) => listSeriesOfSubjects(ctx, { subjectIds }),
    url: (id) => `/v1/subjects/${id}/series`,
    part: 'items',
    absent: [],
    richest: () => first.subjectId,
    statements: 7,
  },
  {
    name: 'observations of episodes',
    action: 'observations.list',
    of: 'episode',
    read: (ctx, episodeIds) => listObservationsOfEpisodes(ctx, { episodeIds }),
    url: (id) => `/v1/episodes/${id}/observations`,
    part: 'items',
    absent: [],
    richest: () => first.episodeId,
    statements: 7,
  },
]

const ofFirst = (kind: Kind): string => own[kind].find((id) => owner.get(id) === first.subjectId)!

async function contextOf(role: ClinicRole = 'clinician'): Promise<Context> {
  const { clinicId, subs } = first.clinic
  const token = { issuer: ISSUER, sub: subs[role], clinicId, teamId: null, client: null, expiresAt: new Date() }
  const actor = await actorOf(service.db, token)
  if (actor?.kind !== 'clinic') throw new Error('no such member')
  return { db: service.db, actor, requestId: uuidv7(), now: new Date(), purpose: null, pool, ledger: null, subjectKeys }
}

/** As it would leave the service. */
const written = (answer: unknown): unknown =>
  answer instanceof AppError
    ? { status: answer.status, code: answer.code, detail: answer.detail }
    : (JSON.parse(JSON.stringify(answer)) as unknown)

async function overRest({ url, part }: Batch, id: string): Promise<unknown> {
  const { status, body } = await first.clinician.get(url(id))
  if (status !== 200) return { status, code: body.code, detail: body.detail }
  return part === undefined ? body : body[part]
}

interface Event {
  readonly action: string
  readonly outcome: string
  readonly subjects: readonly string[]
  readonly disclosed: readonly string[]
  readonly resources: readonly string[]
  readonly details: LooseDocument
}

const eventsOf = ({ requestId }: Context): Promise<Event[]> =>
  sql<Event>(
    service,
    `select e.action, e.outcome, e.subject_ids::text[] as subjects, e.resource_ids as resources, e.details,
            array(select d.subject_id::text from audit_disclosure d where d.event_id = e.id order by 1) as disclosed
     from audit_event e where e.request_id = $1`,
    [requestId],
  )

const subjectsOf = (ids: readonly string[]): string[] => [...new Set(ids.map((id) => owner.get(id) ?? ''))].sort()
/** Those that a list of sessions shows nothing of are not named by it. */
const shownBy = ({ action }: Batch, ids: readonly string[]): string[] => {
  const tested = new Set(own.session.map((id) => owner.get(id)))
  return subjectsOf(ids).filter((id) => action !== 'sessions.list' || tested.has(id))
}

describe.each(BATCHES)('$name, many at once', (batch) => {
  it('are what REST answers one by one, in the order asked, whatever the record is like', async () => {
    const shapes = own[batch.of].slice(0, 8)
    const ids = [...shapes.toReversed(), shapes[0]!, shapes[1]!.toUpperCase()]
    const answers = (await batch.read(await contextOf(), ids)).map(written)
    const alone: unknown[] = []
    for (const id of ids) alone.push(await overRest(batch, id))
    expect(answers).toEqual(alone)
    expect(new Set(answers.map((answer) => JSON.stringify(answer))).size).toBeGreaterThan(1)
  })

  it('leave a gap where an id is of nothing or of another clinic, the same for both', async () => {
    const [known] = own[batch.of]
    const ctx = await contextOf()
    const answers = (await batch.read(ctx, [uuidv7(), known!, foreign[batch.of][0]!])).map(written)
    expect(answers).toEqual([batch.absent, await overRest(batch, known!), batch.absent])
    const [event, ...more] = await eventsOf(ctx)
    expect(more).toEqual([])
    expect(event).toMatchObject({ outcome: 'done', subjects: subjectsOf([known!]) })
    if (batch.action !== 'sessions.list') expect(event!.details).toMatchObject({ notFound: 2 })
  })

  it('of which none is found are refused as one is that is not found', async () => {
    const answered = async (ids: readonly string[]) => {
      const ctx = await contextOf()
      const answer = await batch.read(ctx, ids).then(
        (answers) => answers.map(written),
        (error: unknown) => written(error),
      )
      return { answer, events: await eventsOf(ctx) }
    }
    const ofNothing = await answered([uuidv7(), uuidv7()])
    expect(await answered([foreign[batch.of][0]!, foreign[batch.of][0]!])).toEqual(
      batch.action === 'sessions.list' ? ofNothing : await answered([uuidv7()]),
    )
    if (batch.action === 'sessions.list') expect(ofNothing.answer).toEqual([batch.absent, batch.absent])
    else {
      expect(ofNothing.answer).toMatchObject({ status: 404, code: 'not_found' })
      expect(ofNothing.events).toMatchObject([{ outcome: 'refused', subjects: [], resources: [], details: { code: 'not_found' } }]) // prettier-ignore
    }
  })

  it('write one event, which names everyone who was shown', async () => {
    const ids = own[batch.of].slice(0, MANY)
    const ctx = await contextOf()
    await batch.read(ctx, ids)
    const events = await eventsOf(ctx)
    const shown = shownBy(batch, ids)
    expect(shown.length).toBeGreaterThan(1)
    expect(events).toMatchObject([{ action: batch.action, outcome: 'done', subjects: shown, disclosed: shown }])
    if (batch.of !== 'subject') expect(events[0]!.resources).toEqual(expect.arrayContaining(ids.map((id) => `${batch.of}/${id}`))) // prettier-ignore
  })

  it(`ask the database as often as one does`, async () => {
    const ids = own[batch.of].slice(0, MANY)
    expect(ids).toHaveLength(MANY)
    const ctx = await contextOf()
    const one = await countStatements(() => batch.read(ctx, [batch.richest()]))
    const many = await countStatements(() => batch.read(ctx, ids))
    expect({ one: one.statements, many: many.statements }).toEqual({ one: batch.statements, many: batch.statements })
  })

  it('are for no role that may not read one, which is asked once', async () => {
    const ctx = await contextOf('auditor')
    const { statements } = await countStatements(() =>
      expect(batch.read(ctx, own[batch.of].slice(0, 3))).rejects.toMatchObject({ code: 'forbidden' }),
    )
    expect(await eventsOf(ctx)).toMatchObject([{ action: batch.action, outcome: 'refused', subjects: [] }])
    // The transaction of the refusal, and nothing was looked up.
    expect(statements).toBe(4)
  })

  it(`are at most ${MOST_IN_A_BATCH}`, async () => {
    const ids = Array.from({ length: MOST_IN_A_BATCH + 1 }, () => uuidv7())
    await expect(batch.read(await contextOf(), ids)).rejects.toThrow(RangeError)
  })
})

describe('readiness of several episodes', () => {
  it('answers each that names no set with its refusal and the others all the same, and says how many in the log', async () => {
    const ctx = await contextOf()
    const episodeIds = own.episode.slice(0, 5)
    const answers = await assessReadinessOfEpisodes(ctx, { episodeIds, criteriaSet: null, on: ON, asKnownAt: null })
    const kinds = answers.map((answer) => (answer instanceof AppError ? answer.code : answer?.criteriaSet.key))
    expect(kinds).toEqual(['invalid_query', SET, ownSet.key, 'invalid_query', 'invalid_query'])
    const [event] = await eventsOf(ctx)
    expect(event!.details).toEqual({ withoutCriteriaSet: 3 })
    expect(event!.resources).toEqual(expect.arrayContaining([`criteria-set/${SET}@1`, `criteria-set/${ownSet.key}@1`]))
  })
})

describe('sessions of several subjects', () => {
  it('are walked page by page, each subject by its own', async () => {
    const ctx = await contextOf()
    const subjectIds = own.subject.slice(0, 6)
    const page = (after: string | null) => listSessionsOfSubjects(ctx, { subjectIds, page: { limit: 1, after } })
    const [ofFirst] = await page(null)
    const next = await page(ofFirst!.items[0]!.id)
    const { body } = await first.clinician.get(`/v1/sessions?subjectId=${first.subjectId}&limit=1&cursor=${ofFirst!.nextCursor}`) // prettier-ignore
    expect(next[0]).toEqual(body)
    expect(next.every(({ items }) => items.every(({ id }) => id > ofFirst!.items[0]!.id))).toBe(true)
  })
})
