import { describe, expect, it } from 'vitest'
import { actionsOf } from '../../src/tenancy/policy.ts'
import { CLINIC_ROLES } from '../../src/tenancy/actor.ts'
import { freshClinic, freshTeam, makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const service = await makeTestService(await testDatabase())

describe('GET /v1/me', () => {
  it.each(CLINIC_ROLES)('tells a member with the role %s who it is and what it may do', async (role) => {
    const clinic = await freshClinic(service)
    const { status, body } = await service.api(clinic.tokens[role]).get('/v1/me')
    expect(status).toBe(200)
    expect(body).toEqual({
      principalId: clinic.principals[role],
      displayName: `Member, ${role}`,
      clinic: { id: clinic.clinicId, name: clinic.name, timeZone: 'Europe/Zurich' },
      role,
      licensed: role === 'clinician',
      client: null,
      mayDo: actionsOf(role),
    })
  })

  it('tells a team reader its team, and no clinic', async () => {
    const team = await freshTeam(service)
    const { status, body } = await service.api(team.token).get('/v1/me')
    expect(status).toBe(200)
    expect(body).toMatchObject({ team: { id: team.teamId, name: 'Team of a test' }, role: 'reader' })
    expect(body).not.toHaveProperty('clinic')
  })

  it('refuses a query it does not know', async () => {
    const clinic = await freshClinic(service)
    const { status, body } = await service.api(clinic.tokens.owner).get('/v1/me?verbose=yes')
    expect(status).toBe(400)
    expect(body).toMatchObject({
      code: 'invalid_query',
      errors: [{ pointer: '#/query/verbose', code: 'unknown_field' }],
    })
  })
})
