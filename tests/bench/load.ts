/**
 * npm run bench:load [-- SECONDS SESSIONS SUBJECTS]: 200 requests a second on one machine, 160 of them reads (trend, symmetry,
 * criteria) and 40 sessions with reported values, audit on; the same beside one raw visit a second; then reads as fast as
 * they go. Prints what the clients saw and judges nothing. The generator is a process of its own.
 */
import { fork } from 'node:child_process'
import { randomUUID } from 'node:crypto'
import { readFileSync } from 'node:fs'
import autocannon, { type Options, type Request, type Result } from 'autocannon'
import { readConfig } from '../../src/config.ts'
import { clientOf } from '../../src/demo/client.ts'
import { buildScenario } from '../../src/demo/scenario.ts'
import { SEED } from '../../src/demo/play.ts'
import { startTemporaryMachine } from '../../src/embedded/machine.ts'
import { makeService } from '../../src/service.ts'
import { addMember, createClinic, withOwner } from '../../src/store/admin-store.ts'

const CLINICS = 20
const SERIES =
  'joint=knee&movement=extension&contractionMode=isokinetic_concentric&contractionScheme=single_direction&velocity=60%20deg/s&measure=peakTorque&statistic=best' // prettier-ignore

interface Clinic {
  readonly token: string
  readonly people: readonly Person[]
}

interface Person {
  /** Ends its record number and its case number. */
  readonly number: string
  readonly subjectId: string
  readonly episodeId: string
}

interface Plan {
  readonly url: string
  readonly seconds: number
  readonly clinics: readonly Clinic[]
}

type Document = Record<string, unknown>

/** Its machine and its recordings. */
const scenario = buildScenario(SEED, new Date())

/** The worked documents of the README: dynamometer, subject, episode, session. */
function workedDocuments(): readonly [Document, Document, Document, Document] {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8')
  const [dynamometer, subject, episode, session] = [...readme.matchAll(/```json\n([\s\S]*?)```/g)].map(
    ([, text]) => JSON.parse(text ?? '') as Document,
  )
  return [dynamometer, subject, episode, session] as [Document, Document, Document, Document]
}

if (process.send === undefined) await main()
else
  process.once(
    'message',
    (plan: Plan) => void generate(plan).then((lines) => process.send?.(lines, () => process.exit())),
  )

async function main(): Promise<void> {
  const [seconds = 20, sessions = 8, subjects = 5] = process.argv.slice(2).map(Number)
  const config = readConfig({ NODE_ENV: 'development', PORT: '0', LOG_LEVEL: 'fatal' })
  const machine = await startTemporaryMachine(config)
  const service = await makeService({ ...config, DATA_DIR: machine.directory }, { machine, logStream: process.stderr })
  try {
    const url = `http://${config.HOST}:${await service.listen()}`
    const clinics: Clinic[] = []
    for (let i = 0; i < CLINICS; i++) {
      const token = await withOwner(machine.adminUrl, async (client) => {
        const { issuer } = machine.issuer
        const id = await createClinic(client, { name: `Clinic ${i}`, timeZone: 'Europe/Zurich', issuers: [issuer] })
        for (const role of ['owner', 'integration'] as const)
          await addMember(client, { clinicId: id, issuer, sub: `${role}-${i}`, role, displayName: role, licence: undefined, identifiers: [] }) // prettier-ignore
        return { owner: await machine.issuer.mint({ sub: `owner-${i}`, clinic: id }), integration: await machine.issuer.mint({ sub: `integration-${i}`, clinic: id }) } // prettier-ignore
      })
      clinics.push(await fill(url, token, sessions, subjects))
    }
    console.log(`${CLINICS} clinics with ${subjects} subjects of ${sessions} sessions; ${seconds} s a part`)
    const generator = fork(import.meta.filename)
    generator.send({ url, seconds, clinics } satisfies Plan)
    const lines = await new Promise<readonly string[]>((settle, fail) => generator.once('message', settle).once('error', fail)) // prettier-ignore
    for (const line of lines) console.log(line)
  } finally {
    await service.close()
  }
}

async function fill(
  url: string,
  tokens: { owner: string; integration: string },
  sessions: number,
  subjects: number,
): Promise<Clinic> {
  const [dynamometer, subject, episode, session] = workedDocuments()
  const api = clientOf(url, tokens.integration)
  const owner = clientOf(url, tokens.owner)
  for (const machine of [dynamometer, scenario.dynamometer]) await owner.post('/v1/dynamometers', machine, 201)
  const people: Person[] = []
  for (let i = 0; i < subjects; i++) {
    const number = String(i)
    const { subject: reference, episode: ofCase } = referencesOf(number)
    const identifiers = [reference.identifier]
    const { id: subjectId } = (await api.post<{ id: string }>('/v1/subjects', { ...subject, identifiers }, 201)).body
    const care = { ...episode, ...ofCase, subject: reference }
    const { id: episodeId } = (await api.post<{ id: string }>('/v1/episodes', care, 201)).body
    for (let day = 0; day < sessions; day++) await api.post('/v1/sessions', visit(session, number, day), 201)
    people.push({ number, subjectId, episodeId })
  }
  return { token: tokens.integration, people }
}

function referencesOf(number: string) {
  return {
    subject: { identifier: { system: 'https://clinic.example/record-number', value: `K-${number}` } },
    episode: { externalId: { system: 'https://records.clinic.example/case', value: `C-${number}` } },
  }
}

function visit(session: Document, number: string, i: number): Document {
  const day = new Date(Date.parse('2025-10-01T09:00:00Z') + i * 86_400_000).toISOString().slice(0, 10)
  const externalId = { system: 'https://records.clinic.example/visit', value: randomUUID() }
  return { ...session, ...referencesOf(number), externalId, startedAt: `${day}T09:00:00+01:00`, endedAt: `${day}T09:40:00+01:00` } // prettier-ignore
}

/** Each part of the load an instance of its own, so that each has its own latencies. */
async function generate({ url, seconds, clinics }: Plan): Promise<readonly string[]> {
  const [, , , session] = workedDocuments()
  const ofAll = clinics.flatMap(({ token, people }) => people.map((person) => ({ token, ...person })))
  const reads = inTurn(
    ofAll.flatMap(({ token, subjectId, episodeId }) =>
      [
        `/v1/subjects/${subjectId}/trend?${SERIES}&side=left`,
        `/v1/subjects/${subjectId}/trend?${SERIES}&side=right`,
        `/v1/subjects/${subjectId}/symmetry?${SERIES}`,
        `/v1/episodes/${episodeId}/readiness?criteriaSet=kyritsis-2016`,
      ].map((path) => () => ({ method: 'GET', path, headers: { authorization: `Bearer ${token}` } })),
    ),
  )
  const push = (make: (number: string) => Document): Request[] =>
    inTurn(
      ofAll.map(({ token, number }) => () => ({
        method: 'POST',
        path: '/v1/sessions',
        headers: {
          authorization: `Bearer ${token}`,
          'content-type': 'application/json',
          'idempotency-key': randomUUID(),
        },
        body: JSON.stringify(make(number)),
      })),
    )
  const raw = rawVisit()
  const readsAt = (overallRate: number) =>
    run({ url, duration: seconds, connections: 16, overallRate, requests: reads })
  const pushes = () => run({ url, duration: seconds, connections: 8, overallRate: 40, requests: push((number) => visit(session, number, 100)) }) // prettier-ignore
  const visits = () => run({ url, duration: seconds, connections: 2, overallRate: 1, requests: push((number) => ({ ...raw, ...referencesOf(number), externalId: { system: 'https://records.clinic.example/visit', value: randomUUID() } })) }) // prettier-ignore

  const lines: string[] = []
  const say = (name: string, result: Result): void => {
    const { latency, errors, non2xx, requests } = result
    lines.push(`  ${name.padEnd(34)} ${requests.average.toFixed(0).padStart(5)}/s  p50 ${latency.p50} ms  p99 ${latency.p99} ms  most ${latency.max} ms  refused ${non2xx}, lost ${errors}`) // prettier-ignore
  }
  await run({ url, duration: 3, connections: 8, requests: reads })
  lines.push('200 requests a second:')
  const both = await Promise.all([readsAt(160), pushes()])
  say('reads', both[0])
  say('sessions with reported values', both[1])
  lines.push(`the same, and a raw visit of ${(JSON.stringify(raw).length / 1e6).toFixed(1)} MB a second:`)
  const [read, pushed, raws] = await Promise.all([readsAt(160), pushes(), visits()])
  say('reads', read)
  say('sessions with reported values', pushed)
  say('raw visits', raws)
  lines.push('reads as fast as they go:')
  for (const connections of [8, 80]) say(`${connections} connections`, await run({ url, duration: seconds, connections, requests: reads })) // prettier-ignore
  return lines
}

/** The same for every connection, so that no two of them ask for the same person at the same moment. */
function inTurn(requests: readonly (() => Request)[]): Request[] {
  let turn = 0
  return [{ setupRequest: (request) => ({ ...request, ...requests[turn++ % requests.length]?.() }) }]
}

function run(options: Options): Promise<Result> {
  return autocannon(options)
}

/** The recordings of a simulated visit, in a document that every one of these clinics takes. */
function rawVisit(): Document {
  const [first] = scenario.visits
  if (first === undefined) throw new Error('the scenario has no visit')
  const { operator: _, ...document } = first.document as unknown as Document
  return document
}
