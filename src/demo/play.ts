/** The story, told to the service over HTTP by those who would tell it: the clinic's records system, its clinician, its owner. */
import { randomUUID } from 'node:crypto'
import type { assessReadiness } from '../application/readiness/assess-readiness.ts'
import type { SessionDescription } from '../application/sessions/describe-session.ts'
import type { readSymmetry } from '../application/symmetry/read-symmetry.ts'
import type { readTrend } from '../application/trends/read-trend.ts'
import { clientOf, type Answer, type Client } from './client.ts'
import type { Person, PersonKey } from './found-clinics.ts'
import { retestPairs } from './retest-pairs.ts'
import type { Scenario } from './scenario.ts'
import type { VisitDocument } from './scenario-visit.ts'

export const SEED = 20261125

/** Types of what use cases answer; the values are parsed from the bodies that came over the wire. */
export type Trend = Awaited<ReturnType<typeof readTrend>>
export type Symmetry = Awaited<ReturnType<typeof readSymmetry>>
export type Readiness = Awaited<ReturnType<typeof assessReadiness>>

export interface Problem {
  readonly status: number
  readonly code: string
  readonly detail: string
  readonly errors: readonly { readonly pointer: string; readonly code: string; readonly message: string }[]
}

export interface Push {
  readonly visit: string
  readonly said: string
  readonly document: VisitDocument
  readonly answer: Answer<SessionDescription | Problem>
}

export interface Flag {
  readonly code: string
  readonly level: string
  readonly message: string
  readonly effect: string
  readonly sessionId: string
}

export interface AuditEvent {
  readonly at: string
  readonly sealed: { readonly sequence: number } | null
  readonly actor: { readonly displayName: string | null; readonly role: string | null }
  readonly action: string
  readonly outcome: string
  readonly subjectIds: readonly string[]
  readonly details: Readonly<Record<string, unknown>>
}

export interface Story {
  readonly pushes: readonly Push[]
  readonly held: readonly Flag[]
  readonly trend: Trend
  readonly trendSinceSurgery: Trend
  readonly symmetry: Symmetry
  readonly readinessBefore: Readiness
  readonly readiness: Readiness
  readonly audit: readonly AuditEvent[]
  readonly sealed: { readonly size: number; readonly rootHash: string }
  /** The trend, asked by a clinician of the other clinic, beside the trend of a subject that nobody has. */
  readonly otherClinic: { readonly status: number; readonly asIfItDidNotExist: boolean }
  readonly commands: readonly Command[]
}

/** To paste into a terminal. */
export interface Command {
  readonly title: string
  readonly text: string
}

const SERIES = {
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocity: '60 deg/s',
  measure: 'peakTorque',
  statistic: 'best',
}

export async function play(
  url: string,
  scenario: Scenario,
  people: readonly Person[],
  progress: (done: number, of: number, doing: string) => void,
): Promise<Story> {
  const tokenOf = (key: PersonKey): string => {
    const person = people.find((someone) => someone.key === key)
    if (person === undefined) throw new Error(`The scenario has no ${key}.`)
    return person.token
  }
  const as = (key: PersonKey): Client => clientOf(url, tokenOf(key))
  const [records, clinician, owner] = [as('integration'), as('clinician'), as('owner')]

  const { subject, episode, episodeEtag } = await prepareClinic(scenario, records, owner)
  const pushes = await pushVisits(scenario, records, progress, async (baselineId) => {
    const document = { ...scenario.episode, baselineSession: { id: baselineId } }
    await clinician.put(`/v1/episodes/${episode}`, document, episodeEtag)
  })

  const query = (more: Record<string, string>) => new URLSearchParams({ ...SERIES, ...more }).toString()
  const trendPath = `/v1/subjects/${subject}/trend?${query({ side: scenario.episode.involvedSide })}`
  const readinessPath = `/v1/episodes/${episode}/readiness?criteriaSet=${scenario.episode.criteriaSet.key}`

  const trend = await clinician.get<Trend>(trendPath)
  const symmetry = await clinician.get<Symmetry>(`/v1/subjects/${subject}/symmetry?${query({})}`)
  const goal = (symmetry.points[0]?.left.value ?? 0).toFixed(1)
  const sinceSurgery = new URLSearchParams({ from: scenario.episode.surgeryOn, threshold: `${goal} N.m` }).toString()
  const readinessBefore = await clinician.get<Readiness>(readinessPath)
  await clinician.post('/v1/sessions', scenario.laterObservation, 201)
  const readiness = await clinician.get<Readiness>(readinessPath)
  const trendSinceSurgery = await clinician.get<Trend>(`${trendPath}&${sinceSurgery}`)
  const held = (await clinician.get<{ items: Flag[] }>('/v1/flags?level=hold')).items
  const stranger = as('other-clinician')
  const otherClinic = await stranger.ask(trendPath)
  const missing = await stranger.ask(trendPath.replace(subject, randomUUID()))

  const { body: sealed } = await owner.post<Story['sealed']>('/v1/audit/seal', undefined, 200)
  const audit = await owner.get<{ items: AuditEvent[] }>('/v1/audit/events?limit=200')

  return {
    pushes,
    held,
    trend,
    trendSinceSurgery,
    symmetry,
    readinessBefore,
    readiness,
    audit: audit.items,
    sealed,
    otherClinic: { status: otherClinic.status, asIfItDidNotExist: sameButForTheRequest(otherClinic, missing) },
    commands: [
      { title: 'The strength trend', text: curl(url, trendPath, tokenOf('clinician')) },
      { title: 'Readiness', text: curl(url, readinessPath, tokenOf('clinician')) },
      {
        title: 'The same trend for the other clinic: answered as if it did not exist',
        text: curl(url, trendPath, tokenOf('other-clinician')),
      },
    ],
  }
}

function sameButForTheRequest(one: Answer<unknown>, other: Answer<unknown>): boolean {
  const text = ({ status, body }: Answer<unknown>) => JSON.stringify({ status, ...(body as object), requestId: null })
  return text(one) === text(other)
}

const curl = (url: string, path: string, token: string): string =>
  `curl -s '${url}${path}' -H 'Authorization: Bearer ${token}'`

async function prepareClinic(scenario: Scenario, records: Client, owner: Client) {
  const subject = await records.post<{ id: string }>('/v1/subjects', scenario.subject, 201)
  const episode = await records.post<{ id: string }>('/v1/episodes', scenario.episode, 201)
  const dynamometer = await owner.post<{ id: string }>('/v1/dynamometers', scenario.dynamometer, 201)
  await owner.post(`/v1/dynamometers/${dynamometer.body.id}/calibration-checks`, calibrationCheck(scenario), 201)
  await owner.post('/v1/measurement-errors', retestPairs(SEED), 201)
  return { subject: subject.body.id, episode: episode.body.id, episodeEtag: episode.etag ?? '' }
}

/** The week before the first visit: 20 kg at half a metre, which should read 98.1 N.m. */
function calibrationCheck(scenario: Scenario) {
  const first = Date.parse(scenario.visits[0]?.document.startedAt ?? '')
  const day = (days: number) => new Date(first + days * 86_400_000).toISOString()
  return {
    checkedAt: day(-5),
    mass: { value: 20, unit: 'kg' },
    armLength: { value: 0.5, unit: 'm' },
    readTorque: { value: 98.4, unit: 'N.m' },
    nextDueOn: day(360).slice(0, 10),
  }
}

async function pushVisits(
  scenario: Scenario,
  records: Client,
  progress: (done: number, of: number, doing: string) => void,
  afterBaseline: (sessionId: string) => Promise<void>,
): Promise<Push[]> {
  const { wrongUnit, footPoundsAsNewtonMetres, otherStraps, retry, amendment } = scenario.variants
  const pushes: Push[] = []
  const total = scenario.visits.length + 5
  const push = async (visit: string, said: string, document: VisitDocument, expected: number, key?: string) => {
    progress(pushes.length, total, `${visit}: ${said}`)
    const options = key === undefined ? {} : { key }
    const answer = await records.post<SessionDescription>('/v1/sessions', document, expected, options)
    pushes.push({ visit, said, document, answer })
    return answer.body
  }
  for (const { key: visit, document } of scenario.visits) {
    if (visit === 'month-4') await push(visit, 'torque in "Nm"', wrongUnit, 400)
    if (visit === 'month-9') await push('printout', 'foot-pounds sent as N.m', footPoundsAsNewtonMetres, 201)
    const idempotencyKey = randomUUID()
    const said = visit === otherStraps ? 'pushed; taken without trunk straps' : 'pushed'
    const { session } = await push(visit, said, document, 201, idempotencyKey)
    if (visit === scenario.baseline) await afterBaseline(session.id)
    if (visit === retry) {
      await push(visit, 'the same again, same key', document, 201, idempotencyKey)
      await push(visit, 'the same again, new key', document, 200)
    }
    if (visit === amendment.visit) {
      progress(pushes.length, total, `${visit}: amended`)
      const { reason, session: corrected } = amendment
      const path = `/v1/sessions/${session.id}/amendments`
      const answer = await records.post<SessionDescription>(path, { reason, session: corrected }, 200, {
        ifMatch: `"${session.version}"`,
      })
      pushes.push({ visit, said: 'amended: body mass', document: corrected, answer })
    }
  }
  progress(total, total, 'all visits')
  return pushes
}

export const isProblem = (body: SessionDescription | Problem): body is Problem => 'code' in body

/** For --json: what the tables show and the answers behind them; of a push, what came of it. */
export function asJson(url: string, people: readonly Person[], { pushes, ...story }: Story) {
  return {
    url,
    reference: `${url}/docs`,
    tokens: people.map(({ key, name, role, clinic, token }) => ({ key, name, role, clinic, token, validForHours: 12 })),
    pushes: pushes.map(({ visit, said, answer: { body, ...answer } }) => ({
      visit,
      said,
      ...answer,
      ...(isProblem(body) ? { problem: body } : { session: body.session, flags: body.flags }),
    })),
    ...story,
  }
}
