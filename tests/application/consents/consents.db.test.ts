import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import { freshTeam, makeTestService } from '../../harness/clinic.ts'
import { idOf, subjectBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { clinicWorld, day, type ClinicWorld } from '../../harness/sharing-clinic.ts'

const service = await makeTestService(await testDatabase())
let world: ClinicWorld
let team: Awaited<ReturnType<typeof freshTeam>>
beforeAll(async () => {
  world = await clinicWorld(service, '61')
  team = await freshTeam(service)
  await world.invite(team.teamId)
})

const consentTo = (teamId: string, over: Record<string, unknown> = {}) => ({
  team: { id: teamId },
  level: 'criteria',
  teamReference: uuidv7().slice(-8),
  displayName: 'No. 9',
  purposes: ['availability-planning'],
  from: day(0),
  until: day(30),
  ...over,
})
let numbers = 0
const subjectBorn = async (birthDate: string | undefined) => {
  const { birthDate: _, ...body } = subjectBody(`S-${++numbers}`)
  return idOf(
    await world.clinician.post('/v1/subjects', { ...body, ...(birthDate === undefined ? {} : { birthDate }) }),
  )
}
const record = (subjectId: string, body: unknown) => world.clinician.post(`/v1/subjects/${subjectId}/consents`, body)
const yearsAgo = (years: number, days: number) => {
  const date = new Date(`${day(days)}T00:00:00Z`)
  date.setUTCFullYear(date.getUTCFullYear() - years)
  return date.toISOString().slice(0, 10)
}

describe('a consent of a minor', () => {
  it('needs the guardian who gave it, up to the day before the eighteenth birthday', async () => {
    const minor = await subjectBorn(yearsAgo(18, 1))
    const refused = await record(minor, consentTo(team.teamId))
    expect([refused.status, refused.body.errors[0].code, refused.body.errors[0].pointer]).toEqual([400, 'guardian_needed', '#/guardian']) // prettier-ignore
    const accepted = await record(minor, consentTo(team.teamId, { guardian: 'Example, Parent' }))
    expect([accepted.status, accepted.body.guardian]).toEqual([201, 'Example, Parent'])
    expect((await record(await subjectBorn(yearsAgo(18, 0)), consentTo(team.teamId))).status).toBe(201)
  })

  it('is not told from an adult’s where no birth date is on record, so a guardian is named there too', async () => {
    const unknown = await subjectBorn(undefined)
    expect((await record(unknown, consentTo(team.teamId))).body.errors[0].code).toBe('guardian_needed')
    expect((await record(unknown, consentTo(team.teamId, { guardian: 'Example, Parent' }))).status).toBe(201)
  })
})

describe('a consent', () => {
  it('names a team that the clinic has invited, and no other', async () => {
    const subjectId = await subjectBorn('1999-05-05')
    const uninvited = await freshTeam(service)
    for (const teamId of [uninvited.teamId, uuidv7()]) {
      const answer = await record(subjectId, consentTo(teamId))
      expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, '#/team'])
    }
    expect((await world.owner.post(`/v1/teams/${uuidv7()}/invitations`, {})).status).toBe(404)
    expect((await world.clinician.post(`/v1/teams/${uninvited.teamId}/invitations`, {})).status).toBe(403)
    const invited = await world.owner.post(`/v1/teams/${uninvited.teamId}/invitations`, {})
    expect([invited.status, invited.body.name]).toEqual([201, 'Team of a test'])
    expect((await world.owner.post(`/v1/teams/${uninvited.teamId}/invitations`, {})).status).toBe(200)
    const { body } = await world.clinician.get('/v1/teams')
    expect(body.items.map(({ id }: { id: string }) => id)).toEqual([team.teamId, uninvited.teamId])
  })

  it('is one a person and team, and no two people share a reference', async () => {
    const [one, two] = [await subjectBorn('1999-05-05'), await subjectBorn('1999-05-06')]
    const first = await record(one, consentTo(team.teamId, { teamReference: 'CB-99' }))
    const again = await record(one, consentTo(team.teamId))
    expect([again.status, again.body.code, again.body.id]).toEqual([409, 'consent_in_force', first.body.id])
    const twin = await record(two, consentTo(team.teamId, { teamReference: 'CB-99' }))
    expect([twin.status, twin.body.errors[0].pointer]).toEqual([409, '#/teamReference'])
  })

  it.each([
    ['an end before its beginning', { from: day(5), until: day(4) }, '#/until'],
    ['an end that has passed', { from: day(-9), until: day(-1) }, '#/until'],
    ['no purpose', { purposes: [] }, '#/purposes'],
    ['a sentence for a purpose', { purposes: ['Have a look'] }, '#/purposes/0'],
    ['one purpose twice', { purposes: ['travel', 'travel'] }, '#/purposes'],
    ['a level that is none', { level: 'everything' }, '#/level'],
    ['a field that is not known', { notes: 'x' }, '#/notes'],
  ])('is refused with %s', async (_what, over, pointer) => {
    const answer = await record(await subjectBorn('1999-05-05'), consentTo(team.teamId, over))
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([400, pointer])
  })

  it('for the episode of somebody else is refused as for one that is not there', async () => {
    const answer = await record(await subjectBorn('1999-05-05'), consentTo(team.teamId, { episode: { id: world.subject.episodeId } })) // prettier-ignore
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, '#/episode'])
  })
})
