/**
 * Hazard: readiness read as clearance. In no state and no output do our own words say what only a clinician may. Exempt is what
 * comes from elsewhere (citations, a clinic's notes and names), by where it stands and not by how it looks; the scenario below
 * writes such texts without these words, so that every answer can be read whole.
 */
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/limb-ledger.ts'
import { PUBLISHED_CRITERIA_SETS } from '../../src/compute/index.ts'
import { CODE_LISTS } from '../../src/domain/code-list-index.ts'
import { ERROR_TABLE } from '../../src/domain/errors.ts'
import { describeApp } from '../../src/faces/write-descriptions.ts'
import { asTeam, clinicWorld, day, hopsOf } from '../harness/sharing-clinic.ts'
import type { LooseDocument } from '../fixtures/example-session.ts'
import { freshTeam, makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const FORBIDDEN =
  /\b(clear(s|ed|ance)?|safe(ly)?|fit|ready to|passed|failed|ok|okay|normal|healed|recommended to return)\b/gi

/** Words of the machine room and of the chair: they say nothing about a person's readiness. */
const OF_ANOTHER_MATTER: readonly (readonly [where: RegExp, why: string])[] = [
  [/"done", "refused", "failed"/, 'how a request ended, in the audit log'],
  [/PRECONDITION_FAILED/, 'the name that HTTP gives the status 412'],
  [/"none", "slight", "clear"/, 'how far a pad travels along the limb'],
  [/"code":\s*"(pad_travel_)?clear"/, 'how far a pad travels along the limb'],
  [/interval clears the tolerance/, 'an interval of the position of an axis'],
  [/readings_do_not_settle_the_fit/, 'the fit of a curve to readings of an axis'],
]

/** As people read it: identifiers taken apart, random and base64 text left out. */
function readable(text: string): string {
  return text
    .replaceAll(/[A-Za-z0-9_-]{40,}(\.[A-Za-z0-9_-]+)*/g, '')
    .replaceAll(/[0-9a-f]{8}-[0-9a-f-]{27}/g, '')
    .replaceAll(/"salt":\s*"[^"]*"/g, '')
    .replaceAll('_', ' ')
    .replaceAll(/([a-z])([A-Z])/g, '$1 $2')
}

function said(text: string): string[] {
  let own = text.replaceAll(/\s+/g, ' ')
  for (const [where] of OF_ANOTHER_MATTER) own = own.replaceAll(new RegExp(where, 'g'), '')
  return [...readable(own).matchAll(FORBIDDEN)].map(
    (m) => `${m[0]}: ${readable(own).slice(Math.max(0, m.index - 40), m.index + 40)}`,
  )
}
const spaced = (value: unknown): string => JSON.stringify(value, null, 1)

describe('our own words', () => {
  it('would be caught: the check finds each of the words it is for', () => {
    for (const word of [
      'cleared',
      'safe',
      'fit',
      'ready to',
      'passed',
      'failed',
      'OK',
      'normal',
      'healed',
      'recommended to return',
    ])
      expect(said(`"verdict": "${word}"`), word).toHaveLength(1)
    expect(said('"clearedForPlay"')).toHaveLength(1)
    expect(said('{"state": "is_fit"}')).toHaveLength(1)
  })

  it('in the description of the interface', async () => {
    const { 'openapi.json': text, 'errors.md': errors } = await describeApp()
    expect([...said(text), ...said(errors)]).toEqual([])
  })

  it('in the code lists, the table of errors and the published sets', () => {
    const published = PUBLISHED_CRITERIA_SETS.map(({ citation: _, ...own }) => own)
    expect(said([CODE_LISTS, ERROR_TABLE, published].map(spaced).join())).toEqual([])
  })
})

describe('every answer', async () => {
  const service = await makeTestService(await testDatabase(), {})
  const answers: string[] = []
  let directory = ''
  const overall = new Set<string>()
  const currencies = new Set<string>()

  beforeAll(async () => {
    directory = await mkdtemp(join(tmpdir(), 'limb-ledger-words-'))
    const read = async (ask: Promise<LooseDocument>) => {
      const { text, body } = await ask
      answers.push(text)
      if (body?.overall !== undefined) overall.add(body.overall)
      return body
    }
    const world = await clinicWorld(service, 'W-1')
    const team = await freshTeam(service)
    const { clinician, owner, subject } = world
    const readiness = (set: string, on = day(0)) =>
      read(clinician.get(`/v1/episodes/${subject.episodeId}/readiness?criteriaSet=${set}&on=${on}`))
    await world.invite(team.teamId)
    await world.consent(team.teamId, { level: 'measures' })
    const own = (count: number) => ({
      key: `own-${count}`, title: 'Hops', citation: 'Ours', limits: 'A habit.', fromMemory: 'Nothing.',
      population: { description: 'Our people', sex: 'male', sportLevels: null, ageYears: { from: 60, to: 70 } },
      rule: { kind: 'at_least', count },
      criteria: ['single_hop_distance', 'triple_hop_distance', 'side_hop_count'].map((test) => ({
        kind: 'functional_symmetry', key: test, measure: 'hopSymmetry', expression: 'symmetry', test, betterWhen: 'higher',
        comparator: '>=', threshold: { value: 90, unit: '%' }, maximumAgeDays: 28,
      })),
    }) // prettier-ignore
    for (const count of [1, 3]) await read(owner.post('/v1/criteria-sets', own(count)))
    const everySet = async (on?: string) => {
      for (const key of [...PUBLISHED_CRITERIA_SETS.map((set) => set.key), 'own-1', 'own-3']) await readiness(key, on)
    }
    await everySet()
    const report = async () => {
      const signed = await world.sign({ note: 'See the plan.' })
      answers.push(JSON.stringify(signed))
      return signed
    }
    const pulls = async () => {
      const api = asTeam(service.api(team.token))
      const squad = await read(api.get('/v1/team/squad'))
      for (const row of squad.rows ?? []) {
        currencies.add(row.currency)
        await read(api.get(`/v1/team/reports/${row.reportId}`))
      }
      await read(api.get('/v1/team/squad', { accept: 'text/csv' }))
      await read(api.get('/v1/team/reports'))
    }
    await report()
    const document = world.visit(day(-9))
    const pushed = await subject.push(document)
    answers.push(pushed.text)
    await everySet()
    await pulls()
    await report()
    await pulls()
    const better = world.visit(day(-1), (d) => {
      d.functionalResults = [...hopsOf(470)]
      d.screening.pain.during.value = 1
    })
    answers.push((await subject.push(better)).text)
    await pulls()
    document.bodyMass.value = 70
    await read(clinician.post(`/v1/sessions/${pushed.body.session.id}/amendments`, { reason: 'Scale', session: document }, { headers: { 'if-match': '"1"' } })) // prettier-ignore
    await pulls()
    await read(clinician.post(`/v1/episodes/${subject.episodeId}/observations`, { key: 'on_field_rehabilitation', value: 'completed', observedOn: day(-1) })) // prettier-ignore
    await everySet()
    await everySet(day(-40))
    await read(clinician.get(`/v1/episodes/${subject.episodeId}/readiness/compare?criteriaSet=kyritsis-2016,own-1`))
    const last = await report()
    await pulls()
    await read(clinician.get(`/v1/reports/${last.id}/evaluation`))
    await world.sign({ on: day(-45), note: 'Looked back.' })
    await pulls()
    for (const url of [
      '/v1/code-lists',
      '/v1/criteria-sets',
      `/v1/episodes/${subject.episodeId}/reports`,
      `/v1/subjects/${subject.subjectId}/consents`,
      '/v1/flags',
      '/v1/me',
      '/v1/nothing',
      `/v1/sessions/${pushed.body.session.id}/results`,
    ])
      // prettier-ignore
      await read(clinician.get(url))
    await read(clinician.post(`/v1/episodes/${subject.episodeId}/reports`, { decision: 'x' }))
    await read(clinician.post(`/v1/reports/${last.id}/withdrawal`, { reason: 'Other person' }))
    await pulls()
    await commands(last)
  }, 120_000)
  afterAll(() => rm(directory, { recursive: true, force: true }))

  async function commands(report: LooseDocument): Promise<void> {
    const path = (name: string) => join(directory, name)
    const keys = await service.api(null).get(`/.well-known/limb-ledger/clinics/${report.report.clinic.id}/jwks.json`)
    await writeFile(path('keys'), keys.text)
    await writeFile(path('jws'), report.jws)
    await writeFile(path('cut'), report.jws.slice(0, -2))
    const say = (text: string) => void answers.push(text)
    const spies = [vi.spyOn(console, 'log').mockImplementation(say), vi.spyOn(console, 'error').mockImplementation(say)]
    for (const file of ['jws', 'cut', 'absent', 'keys'])
      await run(['verify-report', path(file), '--jwks', path('keys')])
    for (const argv of [[], ['--help'], ['verify-report', '--help'], ['new-report-key', '--help'], ['push', '--help']])
      await run(argv)
    for (const spy of spies) spy.mockRestore()
  }

  it('was given in every overall verdict and every currency', () => {
    expect([...overall].sort()).toEqual(['all_criteria_met', 'criteria_not_met', 'not_assessable', 'required_criteria_met']) // prettier-ignore
    expect([...currencies].sort()).toEqual(['affected_by_amendment', 'current', 'newer_test_exists', 'stale'])
    expect(answers.length).toBeGreaterThan(60)
  })

  it('states criteria and decides nothing', () => {
    expect(answers.flatMap(said)).toEqual([])
  })
})
