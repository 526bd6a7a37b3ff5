import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asker } from '../../faces/graphql/ask.ts'
import { retestPairsInPercent, retests } from '../measurement-errors/retest-pairs.ts'
import { makeWorld, worldIn, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
let subjects = 1
beforeAll(async () => {
  world = await makeWorld(service)
  // A limb error of 4.0 % from so many pairs that Student's t is nearly normal (t = 1.965 with 499 degrees of freedom).
  const document = retests(retestPairsInPercent(500, 4), { scale: 'percent' })
  const error = await world.owner.post('/v1/measurement-errors', document)
  expect(error.status, error.text).toBe(201)
})

const hop = (key: string, test: string, leftCm: number[], rightCm: number[]) => [
  { key: `${key}-l`, test, side: 'left', trials: leftCm.map((value) => ({ value, unit: 'cm' })) },
  { key: `${key}-r`, test, side: 'right', trials: rightCm.map((value) => ({ value, unit: 'cm' })) },
]

const functionalResults = [
  ...hop('hop', 'single_hop_distance', [155, 158], [144, 148]),
  ...hop('triple', 'triple_hop_distance', [512], [471]),
  ...hop('cross', 'triple_crossover_hop_distance', [486], [431]),
  {
    key: 'run',
    test: 'agility_t_run_time',
    performedAt: '2026-11-16T17:30:00+01:00',
    trials: [{ value: 10.62, unit: 's' }],
  },
]

const readiness = async (of: World, query: string): Promise<LooseDocument> => {
  const answer = await of.clinician.get(`/v1/episodes/${of.episodeId}/readiness?${query}`)
  expect(answer.status, answer.text).toBe(200)
  return answer.body
}
const criterion = (body: LooseDocument, key: string): LooseDocument =>
  body.criteria.find((one: LooseDocument) => one.key === key)
/** Another person of the clinic. */
const another = () => worldIn(service, world.clinic, `RB-${++subjects}`)

describe('readiness of one episode on a date', () => {
  let body: LooseDocument
  let visit: LooseDocument
  beforeAll(async () => {
    await world.pushVisit('2026-02-03', { sides: ['left'], extension: { left: 176.3, right: 0 } })
    visit = await world.pushVisit('2026-11-17', {
      extension: { left: 171.2, right: 158.9 },
      change: (d) => (d.functionalResults = functionalResults),
    })
    body = await readiness(world, 'criteriaSet=kyritsis-2016&on=2026-11-20')
  })
  const result = (side: string): string =>
    visit.results.find((r: LooseDocument) => r.side === side && r.movement === 'extension').id

  it('counts four met, one not met, one not assessable; so the criteria are not met', () => {
    expect(body).toMatchObject({
      episodeId: world.episodeId,
      on: '2026-11-20',
      involvedSide: 'right',
      sinceSurgery: { unit: 'wk' },
      overall: 'criteria_not_met',
      counts: { met: 4, notMet: 1, notAssessable: 1 },
    })
    expect(body.sinceSurgery.value).toBeCloseTo(40.43, 2)
  })

  it('names the set, its source, and that its population is another', () => {
    expect(body.criteriaSet).toMatchObject({
      key: 'kyritsis-2016',
      version: 1,
      citation: 'Kyritsis 2016 BJSM 50:946-51',
      population: '158 male professional athletes',
      rule: { kind: 'all' },
      populationMatches: 'no',
    })
    expect(body.criteriaSet.populationNote).toMatch(/female/)
  })

  it('quadriceps deficit: 7.185 % below 10 %, its interval from -3.47 to 16.75 across the threshold', () => {
    const deficit = criterion(body, 'quadriceps-deficit-60')
    expect(deficit).toMatchObject({
      verdict: 'met',
      measure: 'peakTorqueDeficit',
      comparator: '<',
      threshold: { value: 10, unit: '%' },
      intervalSpansThreshold: true,
      age: { value: 3, unit: 'd' },
      comparability: 'comparable_with_caution',
    })
    expect(deficit.observed.value).toBeCloseTo(7.185, 3)
    expect(deficit.observed.interval.low).toBeCloseTo(-3.47, 1)
    expect(deficit.observed.interval.high).toBeCloseTo(16.75, 1)
    expect(deficit.evidence.map((e: LooseDocument) => e.resultId).sort()).toEqual(
      [result('left'), result('right')].sort(),
    )
    expect(deficit.beside.estimatedPreInjuryCapacity.value).toBeCloseTo(90.13, 2)
  })

  it('symmetry behind it: 92.82 %, from 83.25 to 103.47 with a limb error of 4 % (log model)', async () => {
    const last = (await world.symmetry()).points.at(-1)
    expect(last.limbSymmetryIndex.value).toBeCloseTo(92.82, 2)
    expect(last.limbSymmetryIndex.interval.low).toBeCloseTo(83.25, 1)
    expect(last.limbSymmetryIndex.interval.high).toBeCloseTo(103.47, 1)
  })

  it.each([
    ['single-hop', 'met', 93.67],
    ['triple-hop', 'met', 91.99],
    ['crossover-hop', 'not_met', 88.68],
    ['running-t-test', 'met', 10.62],
  ])('%s: %s with %f', (key, verdict, value) => {
    const one = criterion(body, key)
    expect(one.verdict).toBe(verdict)
    expect(one.observed.value).toBeCloseTo(value, 2)
    expect(one.evidence.length).toBeGreaterThan(0)
    expect(one.age).toEqual({ value: key === 'running-t-test' ? 4 : 3, unit: 'd' })
  })

  it('says how far the one not met is from its threshold', () => {
    expect(criterion(body, 'crossover-hop').distance.value).toBeCloseTo(1.32, 2)
  })

  it('missing hidden: what nobody observed is not assessable, is said first, and what it needs is said', () => {
    expect(body.criteria[0]).toMatchObject({
      key: 'on-field-rehabilitation',
      verdict: 'not_assessable',
      reason: 'missing',
      evidence: [],
    })
    expect(body.criteria[1].verdict).toBe('not_met')
    expect(body.toAssess).toMatchObject([
      { criterion: 'on-field-rehabilitation', needs: expect.stringMatching(/observation/) },
    ])
  })

  it('readiness read as clearance: states criteria and leaves the decision to a person', () => {
    expect(body.notes.join(' ')).toMatch(/clinician/)
    const { criteriaSet: _, ...ours } = body
    expect(JSON.stringify(ours)).not.toMatch(/\b(cleared?|safe|fit|ready to|passed|failed|OK|normal|healed|recommended to return)\b/i) // prettier-ignore
  })

  it('stale shown as current: four weeks later the same values are not assessable, and nothing older takes their place', async () => {
    const later = await readiness(world, 'criteriaSet=kyritsis-2016&on=2026-12-16')
    const deficit = criterion(later, 'quadriceps-deficit-60')
    expect(deficit).toMatchObject({ verdict: 'not_assessable', reason: 'stale' })
    expect(later.counts.met).toBe(0)
    const onTheLastDay = await readiness(world, 'criteriaSet=kyritsis-2016&on=2026-12-15')
    expect(criterion(onTheLastDay, 'quadriceps-deficit-60').verdict).toBe('met')
  })

  it('is asked as of a date: of a visit after it nothing is known', async () => {
    const before = await readiness(world, 'criteriaSet=kyritsis-2016&on=2026-11-16')
    expect(criterion(before, 'single-hop')).toMatchObject({ verdict: 'not_assessable', reason: 'missing' })
    expect(criterion(before, 'running-t-test').verdict).toBe('met')
  })

  it('the clinician observes the rest: five met, one not met', async () => {
    const answer = await world.clinician.post(`/v1/episodes/${world.episodeId}/observations`, {
      key: 'on_field_rehabilitation',
      value: 'completed',
      observedOn: '2026-11-19',
    })
    expect(answer.status, answer.text).toBe(201)
    expect((await readiness(world, 'criteriaSet=kyritsis-2016&on=2026-11-20')).counts).toEqual({ met: 5, notMet: 1, notAssessable: 0 }) // prettier-ignore
    expect((await readiness(world, 'criteriaSet=kyritsis-2016&on=2026-11-18')).counts.notAssessable).toBe(1)
  })
})

describe('a value that lies on its threshold', () => {
  it('exactly 90.0 meets "90 or more" and does not meet "more than 90", nor a deficit "below 10"', async () => {
    const one = await another()
    await one.pushVisit('2026-11-17', {
      extension: { left: 170, right: 153 },
      change: (d) => (d.functionalResults = hop('hop', 'single_hop_distance', [150], [135])),
    })
    const above = await readiness(one, 'criteriaSet=kyritsis-2016&on=2026-11-20')
    const atLeast = await readiness(one, 'criteriaSet=grindem-2020&on=2026-11-20')
    for (const [body, key, verdict, value] of [
      [above, 'single-hop', 'not_met', 90],
      [above, 'quadriceps-deficit-60', 'not_met', 10],
      [atLeast, 'single-hop', 'met', 90],
      [atLeast, 'quadriceps-symmetry-60', 'met', 90],
    ] as const) {
      expect([key, criterion(body, key).observed.value, criterion(body, key).verdict]).toEqual([key, value, verdict])
    }
  })
})

describe('the latest attempt governs', () => {
  it('pain-limited trial counted: a painful retest is not assessable, although an older one met the criterion', async () => {
    const one = await another()
    await one.pushVisit('2026-11-10', { extension: { left: 170, right: 165 } })
    await one.pushVisit('2026-11-17', {
      extension: { left: 170, right: 168 },
      change: (d) => (d.screening.pain.during.value = 5),
    })
    const deficit = criterion(await readiness(one, 'criteriaSet=kyritsis-2016&on=2026-11-20'), 'quadriceps-deficit-60')
    expect(deficit).toMatchObject({ verdict: 'not_assessable', reason: 'pain_limited' })
  })

  it('incomparable shown as progress: limbs tested with other straps give no symmetry criterion', async () => {
    const one = await another()
    await one.pushVisit('2026-11-17', {
      extension: { left: 170, right: 168 },
      change: (d) => (d.setups[1].stabilisation.trunkStraps = 'none'),
    })
    const deficit = criterion(await readiness(one, 'criteriaSet=kyritsis-2016&on=2026-11-20'), 'quadriceps-deficit-60')
    expect(deficit).toMatchObject({ verdict: 'not_assessable', reason: expect.stringMatching(/not_comparable/) })
  })
})

describe('which criteria set', () => {
  it('none named, in the question or the episode, is a 400 that says so; one that is not there as well', async () => {
    const url = `/v1/episodes/${world.episodeId}/readiness`
    for (const query of ['', '?criteriaSet=nobody-1999', '?criteriaSet=kyritsis-2016&criteriaSetVersion=7']) {
      const answer = await world.clinician.get(url + query)
      expect([query, answer.status, answer.body.errors[0].pointer]).toEqual([query, 400, '#/query/criteriaSet'])
    }
  })

  it('named by its version alone is a 400 over both faces, though the episode names a set', async () => {
    const document = { subject: { id: world.subjectId }, joint: 'knee', involvedSide: 'left', criteriaSet: { key: 'kyritsis-2016', version: 1 } } // prettier-ignore
    const episode = await world.machine.post('/v1/episodes', document)
    expect(episode.status, episode.text).toBe(201)
    const rest = await world.clinician.get(`/v1/episodes/${episode.body.id}/readiness?criteriaSetVersion=1`)
    const query = 'query($id: ID!) { episode(id: $id) { readiness(criteriaSetVersion: 1) { overall } } }'
    const graphql = await asker(service, world.clinic.tokens.clinician)(query, { id: episode.body.id })
    const fault = { pointer: '#/query/criteriaSet', code: 'missing' }
    expect(rest).toMatchObject({ status: 400, body: { code: 'invalid_query', errors: [fault] } })
    expect(graphql.body.errors).toMatchObject([{ extensions: { problem: { code: 'invalid_query', errors: [fault] } } }])
    const message = 'A version is of a set: name the set as well.'
    expect([rest.body.errors[0].message, graphql.body.errors?.[0]?.extensions.problem.errors?.[0]]).toMatchObject([message, { message }]) // prettier-ignore
  })
})
