import { describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshTeam, makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asTeam, clinicWorld, day, PURPOSE } from '../../harness/sharing-clinic.ts'

const service = await makeTestService(await testDatabase())
const ROUNDS = 5
const PULLERS = 6

describe('revoked consent', () => {
  it('is read by no pull that begins after the answer of the revocation, however many pull meanwhile', async () => {
    const world = await clinicWorld(service, '51')
    const team = await freshTeam(service)
    await world.invite(team.teamId)
    await world.subject.push(world.visit(day(-2)))
    await world.sign()
    const reader = service.api(team.token)
    let before = 0
    let late = 0
    for (let round = 0; round < ROUNDS; round += 1) {
      const consent = await world.consent(team.teamId)
      const { reportId } = (await asTeam(reader).get('/v1/team/squad')).body.rows[0]
      let revoked = false
      let stop = false
      const urls = ['/v1/team/squad', `/v1/team/reports/${reportId}`, '/v1/team/reports'] as const
      const pulling = Array.from({ length: PULLERS }, async (_, puller) => {
        for (let i = puller; !stop; i += 1) {
          const startedAfter = revoked
          const answer = await reader.get<LooseDocument>(urls[i % urls.length] ?? '', { headers: PURPOSE })
          const shows = answer.text.includes(world.clinic.name)
          if (!startedAfter) before += shows ? 1 : 0
          else {
            late += 1
            expect({ status: answer.status, shows }).toEqual({ status: answer.status, shows: false })
          }
        }
      })
      await new Promise((settle) => setTimeout(settle, 100))
      const answer = await world.clinician.post(`/v1/consents/${consent.id}/revocation`, { reason: 'As asked' })
      expect(answer.status, answer.text).toBe(201)
      revoked = true
      await new Promise((settle) => setTimeout(settle, 150))
      stop = true
      await Promise.all(pulling)
    }
    // Both sides of the race were run.
    expect(before).toBeGreaterThan(ROUNDS)
    expect(late).toBeGreaterThan(ROUNDS)
  })

  it('is revoked once, stays on record with its reason, and can be given anew', async () => {
    const world = await clinicWorld(service, '52')
    const team = await freshTeam(service)
    await world.invite(team.teamId)
    const consent = await world.consent(team.teamId)
    const url = `/v1/consents/${consent.id}/revocation`
    expect((await world.clinician.post(url, { reason: 'As asked' })).body).toMatchObject({ state: 'revoked', revocation: { reason: 'As asked' } }) // prettier-ignore
    expect((await world.clinician.post(url, { reason: 'Again' })).body.code).toBe('already_decided')
    await world.consent(team.teamId, { level: 'measures' })
    const { body } = await world.clinician.get(`/v1/subjects/${world.subject.subjectId}/consents`)
    expect(body.items.map((one: LooseDocument) => [one.level, one.state])).toEqual([['measures', 'in_force'], ['status', 'revoked']]) // prettier-ignore
  })
})

describe('a consent', () => {
  it('that begins tomorrow shows nothing today, and one that ended shows nothing either', async () => {
    const world = await clinicWorld(service, '53')
    const team = await freshTeam(service)
    await world.invite(team.teamId)
    await world.subject.push(world.visit(day(-2)))
    await world.sign()
    const consent = await world.consent(team.teamId, { from: day(1) })
    expect(consent.state).toBe('not_begun')
    expect((await asTeam(service.api(team.token)).get('/v1/team/squad')).body.code).toBe('purpose_not_agreed')
    expect((await asTeam(service.api(team.token)).get('/v1/team/reports')).body.items).toEqual([])
  })

  it('for one episode shows the reports of that one alone', async () => {
    const world = await clinicWorld(service, '54')
    const team = await freshTeam(service)
    await world.invite(team.teamId)
    const { episodeBody, idOf } = await import('../../harness/samples.ts')
    const other = idOf(await world.clinician.post('/v1/episodes', { ...episodeBody(world.subject.subjectId, 'C-other'), joint: 'shoulder', precautions: [], primaryMeasures: [] })) // prettier-ignore
    await world.consent(team.teamId, { episode: { id: other } })
    await world.subject.push(world.visit(day(-2)))
    await world.sign()
    expect((await asTeam(service.api(team.token)).get('/v1/team/squad')).body.rows).toEqual([])
    const signed = await world.clinician.post(`/v1/episodes/${other}/reports`, { criteriaSet: { key: 'grindem-2020' }, on: day(0), decision: 'other', note: 'x' }) // prettier-ignore
    expect(signed.status, signed.text).toBe(201)
    const { body } = await asTeam(service.api(team.token)).get('/v1/team/squad')
    expect(body.rows.map((row: LooseDocument) => row.criteriaSet.key)).toEqual(['grindem-2020'])
  })
})
