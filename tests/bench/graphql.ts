/**
 * npm run bench:graphql [-- ROUNDS]: one question over GraphQL (trend of both limbs, symmetry, criteria, next setup), the same
 * as calls of REST, and the rows it needs by hand-written SQL over a bare fastify handler, in turns on one machine. Prints
 * the median of each and their ratios; judges nothing.
 */
import Fastify from 'fastify'
import pg from 'pg'
import { readConfig } from '../../src/config.ts'
import { clientOf } from '../../src/demo/client.ts'
import { foundClinics } from '../../src/demo/found-clinics.ts'
import { play, SEED } from '../../src/demo/play.ts'
import { buildScenario } from '../../src/demo/scenario.ts'
import { startTemporaryMachine } from '../../src/embedded/machine.ts'
import { makeService } from '../../src/service.ts'
import { QUERY } from './graphql-question.ts'

const ROUNDS = Number(process.argv[2] ?? 200)
const WARM_UP = 20

const SERIES = {
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocity: '60 deg/s',
  measure: 'peakTorque',
  statistic: 'best',
}

const config = readConfig({ NODE_ENV: 'development', PORT: '0', LOG_LEVEL: 'fatal' })
const machine = await startTemporaryMachine(config)
const service = await makeService({ ...config, DATA_DIR: machine.directory }, { machine, logStream: process.stderr })
try {
  await bench(`http://${config.HOST}:${await service.listen()}`)
} finally {
  await service.close()
}

async function bench(url: string): Promise<void> {
  const scenario = buildScenario(SEED, new Date())
  const people = await foundClinics(machine, scenario)
  await play(url, scenario, people, () => undefined)
  const { token } = people.find(({ role }) => role === 'clinician') ?? { token: '' }
  const api = clientOf(url, token)
  type Items = { items: { id: string }[] }
  const subjects = await api.get<Items>('/v1/subjects?limit=200')
  const counts = await Promise.all(subjects.items.map(async ({ id }) => ({ id, tests: (await api.get<Items>(`/v1/sessions?subjectId=${id}&limit=200`)).items.length }))) // prettier-ignore
  const subject = counts.toSorted((a, b) => b.tests - a.tests)[0]?.id ?? ''
  const episode = (await api.get<Items>(`/v1/subjects/${subject}/episodes`)).items[0]?.id ?? ''
  const dynamometer = (await api.get<Items>('/v1/dynamometers')).items[0]?.id ?? ''

  const bare = await bareHandler()
  const post = async (body: unknown): Promise<string> => {
    const headers = { authorization: `Bearer ${token}`, 'content-type': 'application/json' }
    const answer = await fetch(`${url}/graphql`, { method: 'POST', headers, body: JSON.stringify(body) })
    return answer.text()
  }
  const series = new URLSearchParams(SERIES).toString()
  const addresses = [
    `/v1/subjects/${subject}/trend?${series}&side=left`,
    `/v1/subjects/${subject}/trend?${series}&side=right`,
    `/v1/subjects/${subject}/symmetry?${series}`,
    `/v1/episodes/${episode}/readiness?criteriaSet=kyritsis-2016`,
    `/v1/subjects/${subject}/next-setup?joint=knee&side=right&dynamometerId=${dynamometer}`,
  ]
  const variables = { subject, episode, dynamometer }
  const told = JSON.parse(await post({ query: QUERY, variables })) as { errors?: unknown; data: { subject: { left: { points: unknown[] } } } } // prettier-ignore
  if (told.errors !== undefined) throw new Error(JSON.stringify(told.errors))

  const ways: Record<string, () => Promise<unknown>> = {
    'GraphQL, one question': () => post({ query: QUERY, variables }),
    'REST, five calls in turn': async () => {
      for (const address of addresses) await api.get(address)
    },
    'REST, five calls at once': () => Promise.all(addresses.map((address) => api.get(address))),
    'bare handler, the rows alone': async () => (await fetch(`${bare.url}/rows?subject=${subject}&episode=${episode}`)).text(), // prettier-ignore
  }
  const times = new Map(Object.keys(ways).map((way) => [way, [] as number[]]))
  for (let round = -WARM_UP; round < ROUNDS; round++) {
    for (const [way, run] of Object.entries(ways)) {
      const from = performance.now()
      await run()
      if (round >= 0) times.get(way)?.push(performance.now() - from)
    }
  }
  await bare.close()
  const graphql = median(times.get('GraphQL, one question') ?? [])
  console.log(`${ROUNDS} rounds, ${told.data.subject.left.points.length} tests in the trend; median, and as a part of GraphQL:`) // prettier-ignore
  for (const [way, each] of times)
    console.log(`  ${way.padEnd(30)} ${median(each).toFixed(2).padStart(8)} ms ${(median(each) / graphql).toFixed(2).padStart(6)}`) // prettier-ignore
}

/** What a handler would cost that only fetches: no tenancy, no token, no log, no judgement. */
async function bareHandler(): Promise<{ url: string; close: () => Promise<void> }> {
  const pool = new pg.Pool({ connectionString: machine.adminUrl, max: 4 })
  const app = Fastify()
  const rows = async (text: string, id: string): Promise<unknown[]> => (await pool.query(text, [id])).rows as unknown[]
  app.get<{ Querystring: { subject: string; episode: string } }>('/rows', async ({ query }) => ({
    results: await rows('select * from set_result where subject_id = $1 and superseded_at is null order by tested_at', query.subject), // prettier-ignore
    flags: await rows('select * from flag where subject_id = $1', query.subject),
    functional: await rows('select f.* from functional_result f join session s on s.clinic_id = f.clinic_id and s.id = f.session_id where s.subject_id = $1', query.subject), // prettier-ignore
    episode: await rows('select * from episode_version where episode_id = $1', query.episode),
    setups: await rows('select u.* from setup u join session s on s.clinic_id = u.clinic_id and s.id = u.session_id where s.subject_id = $1', query.subject), // prettier-ignore
  }))
  const url = await app.listen({ host: '127.0.0.1', port: 0 })
  return { url, close: () => app.close().then(() => pool.end()) }
}

function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b)
  return sorted[Math.floor(sorted.length / 2)] ?? NaN
}
