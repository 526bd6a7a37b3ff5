/** Both faces over one episode: every field that they share is the same to the last digit. */
import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type Api } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { seriesQuery, worldIn } from '../../application/sessions/documents.ts'
import { makeIds, type Ids } from '../rest/route-recipes.ts'
import { asker, dataOf, type Ask } from './ask.ts'
import { operationsFor, queryArgs, queryNames } from './field-recipes.ts'

// One moment for all that is asked.
const now = new Date()
const service = await makeTestService(await testDatabase(), { clock: () => now })
const PURPOSE = { Purpose: 'availability-planning' }

let ids: Ids
let owner: Api
let ask: Ask

beforeAll(async () => {
  const clinic = await freshClinic(service)
  ids = await makeIds(service, clinic)
  owner = service.api(clinic.tokens.owner)
  ask = asker(service, clinic.tokens.owner)
  await ids.world.pushVisit('2026-11-15', { extension: { left: 150, right: 181 } })
  // Three people tested twice: enough for an estimate
  for (const n of [1, 2, 3]) {
    const person = await worldIn(service, clinic, `RB-9${n}`, { calibrated: false })
    await person.pushVisit('2026-11-10', { extension: { left: 150, right: 120 + n } })
    const change = (document: LooseDocument) => (document.purpose = 'repeat_test')
    await person.pushVisit('2026-11-12', { extension: { left: 150, right: 123 - n }, change })
  }
}, 120_000)

/** Where REST says the same. A list or page of REST is its items; of a connection the nodes are compared with them. */
const REST: Readonly<Record<string, (ids: Ids) => string>> = {
  me: () => '/v1/me',
  auditEvents: ({ subjectId, world }) => `/v1/audit/events?limit=3&subjectId=${subjectId}&actorId=${world.clinic.principals.owner}`, // prettier-ignore
  subject: ({ subjectId }) => `/v1/subjects/${subjectId}`,
  subjects: () => '/v1/subjects?limit=2',
  episode: ({ episodeId }) => `/v1/episodes/${episodeId}`,
  session: ({ sessionId }) => `/v1/sessions/${sessionId}`,
  sessions: ({ subjectId }) => `/v1/sessions?limit=2&subjectId=${subjectId}`,
  result: ({ resultId }) => `/v1/results/${resultId}`,
  comparability: ({ resultId, otherResultId }) => `/v1/comparability?a=${resultId}&b=${otherResultId}`,
  workList: () => '/v1/flags?limit=2',
  nextSetup: ({ subjectId, dynamometerId }) => `/v1/subjects/${subjectId}/next-setup?joint=knee&side=right&dynamometerId=${dynamometerId}`, // prettier-ignore
  referenceSetups: ({ subjectId }) => `/v1/subjects/${subjectId}/reference-setups`,
  dynamometer: ({ dynamometerId }) => `/v1/dynamometers/${dynamometerId}`,
  dynamometers: () => '/v1/dynamometers?limit=2',
  measurementErrors: () => '/v1/measurement-errors?limit=2',
  repeatTests: () =>
    `/v1/measurement-errors/from-repeats?${seriesQuery({ scale: 'absolute', limbCondition: 'operated' })}`,
  criteriaSets: () => '/v1/criteria-sets',
  report: ({ reportId }) => `/v1/reports/${reportId}`,
  consents: ({ subjectId }) => `/v1/subjects/${subjectId}/consents`,
  invitedTeams: () => '/v1/teams',
}

/** The same of a field below a root field. */
const BELOW: Readonly<Record<string, (ids: Ids) => string>> = {
  'subject.episodes': ({ subjectId }) => `/v1/subjects/${subjectId}/episodes`,
  'subject.sessions': ({ subjectId }) => `/v1/sessions?limit=2&subjectId=${subjectId}`,
  'subject.series': ({ subjectId }) => `/v1/subjects/${subjectId}/series`,
  'subject.strengthTrend': ({ subjectId }) => `/v1/subjects/${subjectId}/trend?${seriesQuery({ side: 'right' })}`,
  'subject.symmetry': ({ subjectId }) => `/v1/subjects/${subjectId}/symmetry?${seriesQuery()}`,
  'episode.readiness': ({ episodeId }) => `/v1/episodes/${episodeId}/readiness?criteriaSet=kyritsis-2016&on=2026-11-20`,
  'episode.observations': ({ episodeId }) => `/v1/episodes/${episodeId}/observations`,
  'episode.reports': ({ episodeId }) => `/v1/episodes/${episodeId}/reports`,
}

/** Ways from one record to another: each is compared below the record that it leads from, once. */
const LINKS = ['episodes', 'sessions', 'series', 'strengthTrend', 'symmetry', 'readiness', 'observations', 'reports', 'session', 'detail', 'sent'] // prettier-ignore

async function whole(name: string, with_ = ask, headers: Record<string, string> = {}): Promise<LooseDocument> {
  const answers = []
  for (const { query, variables } of operationsFor('query', name, queryArgs(name, ids), ids))
    answers.push((await dataOf(with_(query, variables, headers)))[name])
  return answers.reduce(merge)
}

function merge(a: LooseDocument, b: LooseDocument): LooseDocument {
  if (Array.isArray(a) && Array.isArray(b)) return a.map((item, i) => merge(item, b[i]))
  if (typeof a !== 'object' || a === null || typeof b !== 'object' || b === null) return b
  const keys = new Set([...Object.keys(a), ...Object.keys(b)])
  return Object.fromEntries([...keys].map((key) => [key, key in a && key in b ? merge(a[key], b[key]) : (a[key] ?? b[key])])) // prettier-ignore
}

const itemsOf = (body: LooseDocument): LooseDocument =>
  Array.isArray(body?.items) && Object.keys(body).every((key) => ['items', 'nextCursor'].includes(key)) ? body.items : body // prettier-ignore
const nodesOf = (told: LooseDocument): LooseDocument =>
  told?.edges === undefined ? told : told.edges.map(({ node }: LooseDocument) => node)

/** Where GraphQL says something else than REST, or nothing; what REST leaves out is null here. */
function differences(rest: LooseDocument, told: LooseDocument, at: string): string[] {
  if (told === null || told === undefined) return rest === null || rest === undefined ? [] : [`${at}: not told`]
  if (typeof rest === 'string' && typeof told === 'object') return differences(rest, told.word, `${at}.word`)
  if (typeof rest === 'boolean' && typeof told === 'object') return differences(rest, told.yes, `${at}.yes`)
  if (Array.isArray(told)) {
    if (!Array.isArray(rest) || rest.length !== told.length) return [`${at}: ${told.length} items`]
    return told.flatMap((item, i) => differences(rest[i], item, `${at}.${i}`))
  }
  if (typeof told === 'object') {
    if (typeof rest !== 'object' || rest === null) return [`${at}: ${JSON.stringify(rest)}`]
    const keys = new Set([...Object.keys(rest), ...Object.keys(told)])
    return [...keys].flatMap((key) => (LINKS.includes(key) && !(key in rest) ? [] : differences(rest[key], told[key], `${at}.${key}`))) // prettier-ignore
  }
  return Object.is(rest, told) ? [] : [`${at}: ${JSON.stringify(rest)} became ${JSON.stringify(told)}`]
}

let compared = 0
function expectSame(rest: LooseDocument, told: LooseDocument, at: string): void {
  compared += JSON.stringify(told).split(':').length
  expect(told, at).not.toBeNull()
  expect(differences(itemsOf(rest), nodesOf(told), at)).toEqual([])
}

async function got(url: string, api = owner, headers: Record<string, string> = {}): Promise<LooseDocument> {
  const answer = await api.get(url, { headers })
  expect(answer.status, answer.text).toBe(200)
  return answer.body
}

describe('the same record over REST and GraphQL', () => {
  it.each(queryNames.filter((name) => name !== 'team'))('%s', async (name) => {
    const address = REST[name]
    if (address === undefined) throw new Error(`${name} has no counterpart here`)
    const rest = await got(address(ids))
    if (name === 'repeatTests') expect(rest.all).toMatchObject({ pairs: 3, estimate: { pairs: 3 } })
    const told = await whole(name)
    if (name === 'session') {
      const { session, document, ...more } = rest
      expectSame({ ...session, ...more, document }, told, name)
      expectSame(document, told.sent, 'session.sent')
    } else if (name === 'auditEvents') {
      // Each reading of the log is in the log: those before both readings are compared.
      const known = new Set(rest.items.map(({ id }: LooseDocument) => id))
      const nodes = nodesOf(told).filter(({ id }: LooseDocument) => known.has(id))
      expect(nodes.length).toBeGreaterThan(0)
      const same = rest.items.filter(({ id }: LooseDocument) => nodes.some((node: LooseDocument) => node.id === id))
      expectSame(same, nodes, name)
    } else expectSame(rest, told, name)
    for (const [place, url] of Object.entries(BELOW)) {
      const [root = '', field = ''] = place.split('.')
      if (root === name) expectSame(await got(url(ids)), told[field], place)
    }
  })

  it('a team sees over both what its subjects agreed to', async () => {
    const token = ids.teamToken
    const api = service.api(token)
    const squad = await got('/v1/team/squad', api, PURPOSE)
    const [row] = squad.rows
    const query = `query($id: ID!) { team { report(id: $id) { reportId jws report level decision { category } counts { met } } } }`
    const told = await dataOf(asker(service, token)(query, { id: row.reportId }, PURPOSE))
    const report = await got(`/v1/team/reports/${row.reportId}`, api, PURPOSE)
    expect(told.team.report).toMatchObject({ jws: report.jws, report: report.report, level: report.level })
    const both = await whole('team', asker(service, token), PURPOSE).catch((error: unknown) => error)
    // The recipe asks for the clinic's own id of a report, which is no id of a team's.
    expect(String(both)).toContain('NOT_FOUND')
    const shown = await dataOf(asker(service, token)(`{ team { squad { ${SQUAD} } reports { more nextSince items { change reportId reportVersion } } } }`, {}, PURPOSE)) // prettier-ignore
    expectSame(squad, shown.team.squad, 'team.squad')
    const { items, more } = await got('/v1/team/reports', api, PURPOSE)
    expect(shown.team.reports).toMatchObject({ more, items: items.map(({ change, reportId, reportVersion }: LooseDocument) => ({ change, reportId, reportVersion })) }) // prettier-ignore
  })

  it('thousands of values were compared', () => {
    expect(compared).toBeGreaterThan(2_000)
  })
})

const SQUAD =
  'team { name } asOf notes rows { teamReference displayName consentUntil reportId reportVersion source { clinicName } evaluatedOn expiresOn currency counts { met notMet notAssessable } decision { category decidedOn } level criteriaSet { key version } }'
