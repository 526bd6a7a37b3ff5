/**
 * How to call each route of the REST face as it is meant to be called. Tests that ask something of every route read it, and a
 * route without a recipe fails them: whoever adds one says here what its address, query and body are made of.
 */
import { randomBytes } from 'node:crypto'
import { v7 as uuidv7 } from 'uuid'
import type { FastifyInstance } from 'fastify'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshTeam, type Answer, type FreshClinic, type TestService } from '../../harness/clinic.ts'
import { calibrationBody, episodeBody, idOf, subjectBody } from '../../harness/samples.ts'
import {
  dynamometerWithSettings,
  recorded,
  seriesQuery,
  worldIn,
  type World,
} from '../../application/sessions/documents.ts'
import { CLINIC_ROLES, type ClinicRole } from '../../../src/tenancy/actor.ts'
import { mayDo, type Action } from '../../../src/tenancy/policy.ts'

/** One of everything that an address or a body may point at. */
export interface Ids {
  readonly world: World
  readonly subjectId: string
  readonly episodeId: string
  readonly dynamometerId: string
  readonly sessionId: string
  readonly resultId: string
  readonly otherResultId: string
  readonly flagId: string
  readonly holdId: string
  readonly setKey: string
  /** Of a recording that this clinic alone has. */
  readonly recordingSha256: string
  readonly criteriaSetKey: string
  /** Invited, and shown the subject. */
  readonly teamId: string
  /** Of its reader. */
  readonly teamToken: string
  /** Invited, and shown nothing. */
  readonly blindTeamId: string
  readonly strangeTeamId: string
  readonly consentId: string
  readonly reportId: string
}

/** Names that no clinic owns: another clinic's are as good as one's own. */
export const SHARED: readonly string[] = ['setKey', 'teamId', 'blindTeamId', 'strangeTeamId']

type IdName = Exclude<keyof Ids, 'world' | 'teamToken'>

export interface Recipe {
  /** What stands in each slot of the address: an id of the record, or a word that names no record. */
  readonly path?: Readonly<Record<string, IdName | { readonly word: string }>>
  readonly query?: (ids: Ids) => Readonly<Record<string, string>>
  /** A whole valid body; each call is another document. */
  readonly body?: (ids: Ids) => LooseDocument
  /** The address whose ETag names the version to edit. */
  readonly ifMatchOf?: (ids: Ids) => string
  readonly success: 200 | 201
  /** The route changes what others read: it is given records of its own. */
  readonly ownRecords?: true
  /** What has to be so before it can succeed. */
  readonly before?: (ids: Ids) => Promise<unknown>
}

const read = (path: Recipe['path'] = {}, query?: Recipe['query']): Recipe => ({ path, success: 200, ...(query === undefined ? {} : { query }) }) // prettier-ignore
const ofSubject = { subjectId: 'subjectId' } as const
const ofEpisode = { episodeId: 'episodeId' } as const
const ofDynamometer = { dynamometerId: 'dynamometerId' } as const
const ofReport = { reportId: 'reportId' } as const
const ofSession = { sessionId: 'sessionId' } as const
const fresh = (): string => randomBytes(4).toString('hex')
const reason = () => ({ reason: 'As asked.' })

const series = () => ({
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocity: { value: 60, unit: 'deg/s' },
})

const measurementError = () => ({
  ...series(),
  measure: 'peakTorque',
  scale: 'absolute',
  limbCondition: 'operated',
  source: 'own clinic',
  pairs: [100, 120, 150].map((value, i) => ({ first: { value, unit: 'N.m' }, second: { value: value + i, unit: 'N.m' } })), // prettier-ignore
})

const ownCriteriaSet = () => ({
  key: `own-${fresh()}`,
  title: 'Our own',
  citation: 'This clinic, 2026',
  population: { description: 'Anyone', sex: null, sportLevels: null, ageYears: null },
  rule: { kind: 'all' },
  criteria: [
    {
      kind: 'functional_symmetry',
      key: 'single-hop',
      measure: 'singleHopSymmetry',
      expression: 'symmetry',
      test: 'single_hop_distance',
      betterWhen: 'higher',
      comparator: '>=',
      threshold: { value: 90, unit: '%' },
      maximumAgeDays: 28,
    },
  ],
  limits: 'None known.',
  fromMemory: 'Nothing.',
})

const report = () => ({
  criteriaSet: { key: 'kyritsis-2016' },
  on: '2026-11-20',
  decision: 'continue_rehabilitation',
  note: 'Crossover hop behind.',
})

const consentFor = (teamId: string) => ({
  team: { id: teamId },
  level: 'status',
  teamReference: `CB-${fresh()}`,
  displayName: 'No. 7',
  purposes: ['availability-planning'],
  from: '2026-11-01',
  until: '2099-12-31',
})

const directions = () => [
  { movement: 'extension', contractionMode: 'isokinetic_concentric', velocity: { value: 60, unit: 'deg/s' } },
]

const testPlan = (ids: Ids) => ({
  joint: 'knee',
  side: 'right',
  dynamometer: { id: ids.dynamometerId },
  plannedOn: '2026-12-01',
  sets: [{ directions: directions(), contractionScheme: 'single_direction', intendedRepetitions: 5 }],
})

/** A setup as it is planned: what is measured on the day is not in it. */
function preflight(ids: Ids): LooseDocument {
  const { anatomicalZero: _zero, axisCheck: _axis, limbWeighing: _weighing, ...setup } = ids.world.visit('2026-11-12').setups[1] // prettier-ignore
  return { subject: { id: ids.subjectId }, dynamometer: { id: ids.dynamometerId }, setup, directions: directions() }
}

const axisOffset = () => ({
  side: 'right',
  padMountedOn: 'arm',
  padDistance: { value: 0.3, unit: 'm' },
  readingError: { value: 1, unit: 'mm' },
  padPositions: [90, 45, 0].map((angle, i) => ({ angle: { value: angle, unit: 'deg' }, position: { value: 212 - i, unit: 'mm' } })), // prettier-ignore
})

const limbWeight = () => ({
  joint: 'knee',
  bodyPosition: 'seated',
  limbWeighing: {
    method: 'single_angle',
    limbAngleBelowHorizontal: { value: 35, unit: 'deg' },
    torque: { value: 10.6, unit: 'N.m' },
    armTared: 'no',
    afterLastAdjustment: 'yes',
  },
})

/** The least that a measurement error can be estimated from. */
async function threeRepeatTests({ world: { service, clinic } }: Ids): Promise<void> {
  for (const torque of [100, 120, 150]) {
    const world = await worldIn(service, clinic, `RB-${fresh()}`)
    await world.pushVisit('2026-11-02', { extension: { left: torque, right: torque } })
    await world.pushVisit('2026-11-03', { extension: { left: torque, right: torque + 2 }, change: (d) => void (d.purpose = 'repeat_test') }) // prettier-ignore
  }
}

/** By method and address as they are registered. */
export const RECIPES: Readonly<Record<string, Recipe>> = {
  'GET /v1/me': read(),
  'GET /v1/code-lists': read(),
  'GET /v1/code-lists/:key': read({ key: { word: 'functional-tests' } }),
  'GET /v1/criteria-sets': read(),
  'GET /v1/criteria-sets/:key': read({ key: { word: 'kyritsis-2016' } }),
  'POST /v1/criteria-sets': { body: ownCriteriaSet, success: 201 },
  'POST /v1/criteria-sets/:key/retirement': { path: { key: 'criteriaSetKey' }, body: reason, success: 201, ownRecords: true }, // prettier-ignore
  'GET /v1/comparability-rules': read(),
  'PUT /v1/comparability-rules': { body: () => ({ overrides: [] }), ifMatchOf: () => '/v1/comparability-rules', success: 200 }, // prettier-ignore

  'POST /v1/subjects': { body: () => subjectBody(`RB-${fresh()}`), success: 201 },
  'GET /v1/subjects': read({}, () => ({ limit: '2' })),
  'GET /v1/subjects/:subjectId': read(ofSubject),
  'PUT /v1/subjects/:subjectId': { path: ofSubject, body: () => subjectBody(`RB-${fresh()}`), ifMatchOf: (ids) => `/v1/subjects/${ids.subjectId}`, success: 200 }, // prettier-ignore

  'POST /v1/episodes': { body: (ids) => episodeBody(ids.subjectId, `C-${fresh()}`), success: 201 },
  'GET /v1/subjects/:subjectId/episodes': read(ofSubject),
  'GET /v1/episodes/:episodeId': read(ofEpisode),
  'GET /v1/episodes/:episodeId/versions': read(ofEpisode),
  'PUT /v1/episodes/:episodeId': { path: ofEpisode, body: (ids) => ({ ...episodeBody(ids.subjectId, `C-${ids.world.number}`), baselineSession: { id: ids.sessionId } }), ifMatchOf: (ids) => `/v1/episodes/${ids.episodeId}`, success: 200 }, // prettier-ignore
  'POST /v1/episodes/:episodeId/observations': { path: ofEpisode, body: () => ({ key: 'on_field_rehabilitation', value: 'completed', observedOn: '2026-11-19' }), success: 201 }, // prettier-ignore
  'GET /v1/episodes/:episodeId/observations': read(ofEpisode),
  'GET /v1/episodes/:episodeId/readiness': read(ofEpisode, () => ({ criteriaSet: 'kyritsis-2016', on: '2026-11-20' })),
  'GET /v1/episodes/:episodeId/readiness/compare': read(ofEpisode, () => ({ criteriaSet: 'kyritsis-2016,grindem-2020', on: '2026-11-20' })), // prettier-ignore

  'POST /v1/dynamometers': { body: () => dynamometerWithSettings(`lab-${fresh()}`), success: 201 },
  'GET /v1/dynamometers': read({}, () => ({ limit: '2' })),
  'GET /v1/dynamometers/starter': read(),
  'GET /v1/dynamometers/:dynamometerId': read(ofDynamometer),
  'PUT /v1/dynamometers/:dynamometerId': { path: ofDynamometer, body: (ids) => ({ ...dynamometerWithSettings(`lab of ${ids.world.number}`), name: `Lab ${fresh()}` }), ifMatchOf: (ids) => `/v1/dynamometers/${ids.dynamometerId}`, success: 200 }, // prettier-ignore
  'POST /v1/dynamometers/:dynamometerId/calibration-checks': { path: ofDynamometer, body: calibrationBody, success: 201 }, // prettier-ignore
  'GET /v1/dynamometers/:dynamometerId/calibration-checks': read(ofDynamometer),

  'POST /v1/sessions': { body: (ids) => byReference(ids, '2026-11-12'), success: 201 },
  'POST /v1/calculations/session-check': { body: (ids) => byReference(ids, '2026-11-12'), success: 200 },
  'GET /v1/sessions': read({}, (ids) => ({ subjectId: ids.subjectId })),
  'GET /v1/sessions/:sessionId': read(ofSession),
  'GET /v1/sessions/:sessionId/versions': read(ofSession),
  'GET /v1/sessions/:sessionId/comparability': read(ofSession),
  'GET /v1/sessions/:sessionId/results': read(ofSession),
  'GET /v1/sessions/:sessionId/flags': read(ofSession),
  'GET /v1/sessions/:sessionId/sets/:setKey/recording': read({ ...ofSession, setKey: 'setKey' }),
  'POST /v1/sessions/:sessionId/amendments': {
    path: ofSession,
    body: (ids) => ({ ...reason(), session: { ...byReference(ids, '2026-11-10'), externalId: externalIdOf(ids) } }),
    ifMatchOf: (ids) => `/v1/sessions/${ids.sessionId}`,
    success: 200,
    ownRecords: true,
  },
  'POST /v1/sessions/:sessionId/entered-in-error': { path: ofSession, body: reason, ifMatchOf: (ids) => `/v1/sessions/${ids.sessionId}`, success: 200, ownRecords: true }, // prettier-ignore

  'GET /v1/flags': read({}, () => ({ limit: '2' })),
  'POST /v1/flags/:flagId/resolution': { path: { flagId: 'flagId' }, body: () => ({ status: 'dismissed', ...reason() }), success: 201, ownRecords: true }, // prettier-ignore
  'GET /v1/results/:resultId': read({ resultId: 'resultId' }),
  'GET /v1/comparability': read({}, (ids) => ({ a: ids.resultId, b: ids.otherResultId })),
  'GET /v1/subjects/:subjectId/series': read(ofSubject),
  'GET /v1/subjects/:subjectId/trend': read(ofSubject, () => queryOf(seriesQuery({ side: 'right' }))),
  'GET /v1/subjects/:subjectId/symmetry': read(ofSubject, () => queryOf(seriesQuery())),
  'POST /v1/subjects/:subjectId/reanalysis-preview': { path: ofSubject, body: () => ({ ...series(), side: 'right', measure: 'peakTorque', statistic: 'best' }), success: 200 }, // prettier-ignore
  'POST /v1/measurement-errors': { body: measurementError, success: 201 },
  'GET /v1/measurement-errors': read(),
  'GET /v1/measurement-errors/from-repeats': read({}, () => ({
    ...queryOf(seriesQuery()),
    scale: 'absolute',
    limbCondition: 'operated',
  })),
  'POST /v1/measurement-errors/from-repeats': { body: () => ({ ...series(), measure: 'peakTorque', statistic: 'best', scale: 'absolute', limbCondition: 'operated' }), success: 201, before: threeRepeatTests }, // prettier-ignore

  'POST /v1/subjects/:subjectId/reference-setups': { path: ofSubject, body: (ids) => ({ session: { id: ids.sessionId }, setup: 'right-knee', ...reason() }), success: 201 }, // prettier-ignore
  'GET /v1/subjects/:subjectId/reference-setups': read(ofSubject),
  'GET /v1/subjects/:subjectId/next-setup': read(ofSubject, (ids) => ({ joint: 'knee', side: 'right', dynamometerId: ids.dynamometerId })), // prettier-ignore
  'POST /v1/subjects/:subjectId/test-plans': { path: ofSubject, body: testPlan, success: 201 },
  'GET /v1/subjects/:subjectId/test-plans': read(ofSubject),
  'POST /v1/calculations/preflight': { body: preflight, success: 200 },
  'POST /v1/calculations/axis-offset': { body: axisOffset, success: 200 },
  'POST /v1/calculations/limb-weight': { body: limbWeight, success: 200 },
  'POST /v1/calculations/unit-conversion': { body: () => ({ quantity: { value: 100, unit: 'N.m' }, to: '[ft_i].[lbf_av]' }), success: 200 }, // prettier-ignore

  'POST /v1/episodes/:episodeId/reports': { path: ofEpisode, body: report, success: 201 },
  'GET /v1/episodes/:episodeId/reports': read(ofEpisode),
  'GET /v1/reports/:reportId': read(ofReport),
  'GET /v1/reports/:reportId/versions': read(ofReport),
  'GET /v1/reports/:reportId/evaluation': read(ofReport),
  'GET /v1/reports/:reportId/projections/:level': read({ ...ofReport, level: { word: 'status' } }),
  'POST /v1/reports/:reportId/versions': { path: ofReport, body: () => ({ ...report(), ...reason() }), success: 201, ownRecords: true }, // prettier-ignore
  'POST /v1/reports/:reportId/withdrawal': { path: ofReport, body: reason, success: 201, ownRecords: true },
  'GET /v1/teams': read(),
  'POST /v1/teams/:teamId/invitations': {
    path: { teamId: 'strangeTeamId' },
    body: () => ({}),
    success: 201,
    ownRecords: true,
  },
  'POST /v1/subjects/:subjectId/consents': { path: ofSubject, body: (ids) => consentFor(ids.blindTeamId), success: 201, ownRecords: true }, // prettier-ignore
  'GET /v1/subjects/:subjectId/consents': read(ofSubject),
  'POST /v1/consents/:consentId/revocation': { path: { consentId: 'consentId' }, body: reason, success: 201, ownRecords: true }, // prettier-ignore

  'GET /v1/audit/events': read({}, () => ({ limit: '5' })),
  'GET /v1/audit/export': read(),
  'POST /v1/audit/seal': { success: 200 },
  'GET /v1/audit/tree-head': read(),
  'GET /v1/audit/inclusion-proof': read({}, () => ({ sequence: '1' })),
  'GET /v1/audit/consistency-proof': read({}, () => ({ first: '1' })),
  'POST /v1/audit/verification': { success: 200 },
  'GET /v1/subjects/:subjectId/disclosures': read(ofSubject),
  'GET /v1/subjects/:subjectId/export': read(ofSubject),
  'GET /v1/subjects/:subjectId/legal-holds': read(ofSubject),
  'POST /v1/subjects/:subjectId/legal-holds': { path: ofSubject, body: reason, success: 201, ownRecords: true },
  'POST /v1/subjects/:subjectId/legal-holds/:holdId/release': { path: { ...ofSubject, holdId: 'holdId' }, body: reason, success: 201, ownRecords: true }, // prettier-ignore
  'POST /v1/subjects/:subjectId/erasure': { path: ofSubject, body: (ids) => ({ ground: 'subject_request', subjectId: ids.subjectId }), before: releaseHold, success: 201, ownRecords: true }, // prettier-ignore
}

async function releaseHold({ world, subjectId, holdId }: Ids): Promise<void> {
  const released = await world.owner.post(`/v1/subjects/${subjectId}/legal-holds/${holdId}/release`, reason())
  if (released.status !== 201) throw new Error(released.text)
}

const queryOf = (text: string): Record<string, string> => Object.fromEntries(new URLSearchParams(text))
const externalIdOf = (ids: Ids) => ({ system: 'https://ehr.clinic.example/visit', value: `V-${ids.world.number}-1` })

export interface RegisteredRoute {
  readonly name: string
  readonly method: 'GET' | 'POST' | 'PUT'
  readonly url: string
  readonly action: Action
  readonly slots: readonly string[]
  /** Needs an Idempotency-Key. */
  readonly creates: boolean
  /** Answers page by page. */
  readonly pages: boolean
}

/** Every route that asks for a clinic's token, from the description of the interface. */
export function registeredRoutes(app: FastifyInstance): RegisteredRoute[] {
  return Object.entries(app.swagger().paths ?? {}).flatMap(([path, item]) =>
    Object.entries(item ?? {}).flatMap(([verb, described]) => {
      const operation = described as { 'x-action'?: Action; 'x-roles'?: readonly string[]; parameters?: { name: string; in: string }[] } // prettier-ignore
      const action = operation['x-action']
      if (action === undefined || !CLINIC_ROLES.some((role) => mayDo(role, action))) return []
      const url = path.replaceAll(/\{(\w+)\}/g, ':$1')
      const method = verb.toUpperCase() as RegisteredRoute['method']
      return [
        {
          name: `${method} ${url}`,
          method,
          url,
          action,
          slots: [...url.matchAll(/:(\w+)/g)].map(([, slot]) => slot ?? ''),
          creates: (operation.parameters ?? []).some((p) => p.in === 'header' && p.name === 'idempotency-key'),
          pages: (operation.parameters ?? []).some((p) => p.in === 'query' && p.name === 'cursor'),
        },
      ]
    }),
  )
}

export const roleFor = (action: Action): ClinicRole =>
  (['clinician', 'owner', 'assistant', 'integration', 'auditor'] as const).find((role) => mayDo(role, action)) ?? 'owner' // prettier-ignore

/** A subject of the clinic with two visits: one with recordings, one that raised a flag. */
/** A visit whose last set has the recording that is stored already. */
function byReference(ids: Ids, day: string): LooseDocument {
  return ids.world.visit(day, {
    change: ({ sets }) => {
      const last = sets.at(-1)
      delete last.reported
      last.recording = {
        torquePositive: 'extension',
        anglePositive: 'flexion',
        readingAtAnatomicalZero: { value: 0, unit: 'deg' },
        torqueState: 'measured',
        deviceFilter: 'none',
        deviceWindowing: 'none',
        storedSha256: ids.recordingSha256,
      }
    },
  })
}

let seeds = 0

export async function makeIds(service: TestService, clinic: FreshClinic, number = `RB-${fresh()}`): Promise<Ids> {
  const world = await worldIn(service, clinic, number)
  const first = await world.push(recorded(world.visit('2026-11-10'), (seeds += 10)))
  const second = await world.pushVisit('2026-11-11', { change: (d) => delete d.screening.pain.during })
  const hold = await world.owner.post(`/v1/subjects/${world.subjectId}/legal-holds`, { reason: 'A proceeding.' })
  const ownSet = ownCriteriaSet()
  const added = await world.owner.post('/v1/criteria-sets', ownSet)
  if (added.status !== 201) throw new Error(added.text)
  const team = await freshTeam(service)
  const [blindTeamId, strangeTeamId] = [(await freshTeam(service)).teamId, (await freshTeam(service)).teamId]
  for (const teamId of [team.teamId, blindTeamId]) {
    const invited = await world.owner.post(`/v1/teams/${teamId}/invitations`, {})
    if (invited.status !== 201) throw new Error(invited.text)
  }
  const agreed = await world.clinician.post(`/v1/subjects/${world.subjectId}/consents`, consentFor(team.teamId))
  const signed = await world.clinician.post(`/v1/episodes/${world.episodeId}/reports`, report())
  const pinned = await world.clinician.post(`/v1/subjects/${world.subjectId}/reference-setups`, { session: { id: first.body.session.id }, setup: 'right-knee', ...reason() }) // prettier-ignore
  if (pinned.status !== 201) throw new Error(pinned.text)
  return {
    world,
    subjectId: world.subjectId,
    episodeId: world.episodeId,
    dynamometerId: world.dynamometerId,
    sessionId: first.body.session.id,
    resultId: first.body.results[0].id,
    otherResultId: second.results[0].id,
    flagId: second.flags[0].id,
    holdId: idOf(hold),
    setKey: 'left-60',
    recordingSha256: first.body.results[0].method.recordingSha256,
    criteriaSetKey: ownSet.key,
    teamId: team.teamId,
    teamToken: team.token,
    blindTeamId,
    strangeTeamId,
    consentId: idOf(agreed),
    reportId: idOf(signed),
  }
}

export interface Sent {
  /** Instead of what the recipe says. */
  readonly path?: Readonly<Record<string, string>>
  readonly query?: Readonly<Record<string, string>>
  readonly body?: LooseDocument
  readonly bytes?: Uint8Array | string
  /** null: no such header. */
  readonly ifMatch?: string | null
  readonly key?: string | null
  readonly headers?: Readonly<Record<string, string>>
}

/** Calls a route by its recipe, with what a test wants otherwise. */
export async function call(
  service: TestService,
  token: string | null,
  route: RegisteredRoute,
  ids: Ids,
  sent: Sent = {},
): Promise<Answer<LooseDocument>> {
  const recipe = recipeOf(route)
  const address = route.url.replaceAll(/:(\w+)/g, (_, slot: string) => {
    const named = recipe.path?.[slot]
    return encodeURIComponent(sent.path?.[slot] ?? (named === undefined ? '' : typeof named === 'string' ? ids[named] : named.word)) // prettier-ignore
  })
  const query = new URLSearchParams(sent.query ?? recipe.query?.(ids) ?? {}).toString()
  const url = query === '' ? address : `${address}?${query}`
  const api = service.api(token)
  const { headers = {} } = sent
  if (route.method === 'GET') return api.get(url, { headers })
  const body: LooseDocument = 'body' in sent ? sent.body : (recipe.body?.(ids) ?? {})
  const ifMatch = sent.ifMatch === undefined ? await currentVersion(service, recipe, ids) : sent.ifMatch
  const bytes = sent.bytes === undefined ? {} : { bytes: sent.bytes }
  if (route.method === 'PUT') return api.put(url, body, ifMatch, { headers, ...bytes })
  const key = sent.key === undefined ? (route.creates ? uuidv7() : null) : sent.key
  return api.post(url, body, { key, headers: { ...headers, ...(ifMatch === null ? {} : { 'if-match': ifMatch }) }, ...bytes }) // prettier-ignore
}

/** ETag of what a route edits; null for one that edits nothing. */
export async function currentVersion(service: TestService, recipe: Recipe, ids: Ids): Promise<string | null> {
  if (recipe.ifMatchOf === undefined) return null
  return (await service.api(ids.world.clinic.tokens.owner).get(recipe.ifMatchOf(ids))).headers['etag'] ?? null
}

export function recipeOf(route: RegisteredRoute): Recipe {
  const recipe = RECIPES[route.name]
  if (recipe === undefined) throw new Error(`${route.name} has no recipe`)
  return recipe
}
