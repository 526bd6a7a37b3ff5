import { describe, expect, it } from 'vitest'
import { v7 as uuidv7 } from 'uuid'
import { makeAuditEvent, type AuditEvent } from '../../src/ledger/canonical-event.ts'
import {
  addMember,
  addTeamReader,
  createClinic,
  createTeam,
  removeMember,
  removeTeamReader,
  withOwner,
} from '../../src/store/admin-store.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const issuer = 'https://issuer.test.example/realms/strength-lab'

async function eventsOf(clinicId: string): Promise<AuditEvent[]> {
  return withClient(database.adminUrl, async (client) => {
    const { rows } = await client.query<AuditEvent>(
      `select clinic_id as "clinicId", id, actor_principal_id as "actorPrincipalId", actor_role as "actorRole", client,
              purpose, action, outcome, request_id as "requestId", subject_ids as "subjectIds",
              resource_ids as "resourceIds", details
       from audit_event where clinic_id = $1 order by ord`,
      [clinicId],
    )
    return rows
  })
}

describe('what an operator does', () => {
  it('is written in the words that the ledger takes, although it does not pass the frame of requests', async () => {
    const clinicId = await withOwner(database.adminUrl, async (client) => {
      const id = await createClinic(client, { name: 'Lowmoor', timeZone: 'Europe/London', issuers: [issuer] })
      const member = { clinicId: id, issuer, sub: uuidv7() }
      await addMember(client, { ...member, role: 'clinician', displayName: 'Example, Member', licence: 'LIC 1' })
      await removeMember(client, member)
      return id
    })
    const events = await eventsOf(clinicId)
    expect(events.map(({ action }) => action)).toEqual(['clinics.create', 'members.add', 'members.remove'])
    for (const event of events) expect(makeAuditEvent(event)).toEqual(event)
    expect(JSON.stringify(events)).not.toContain('Example, Member')
  })

  it('to let a reader into a team, and out, is in the log of every clinic that has invited the team, and of no other', async () => {
    const { invited, other, principalId } = await withOwner(database.adminUrl, async (client) => {
      const clinic = { name: 'Lowmoor', timeZone: 'Europe/London', issuers: [issuer] }
      const [invited, other] = [await createClinic(client, clinic), await createClinic(client, clinic)]
      const teamId = await createTeam(client, { name: 'Team' })
      await client.query(`select set_config('app.clinic_id', $1, false)`, [invited])
      await client.query(
        `insert into team_invitation (clinic_id, team_id, team_name, invited_by, invited_at) values ($1, $2, 'Team', $2, now())`,
        [invited, teamId],
      )
      const reader = { teamId, issuer, sub: uuidv7() }
      const principalId = await addTeamReader(client, { ...reader, displayName: 'Example, Reader' })
      await removeTeamReader(client, reader)
      return { invited, other, principalId }
    })
    const events = (await eventsOf(invited)).slice(1)
    expect(events.map(({ action, actorRole }) => `${actorRole} ${action}`)).toEqual(['operator team-readers.add', 'operator team-readers.remove']) // prettier-ignore
    for (const event of events) {
      expect(event.resourceIds).toContain(`principal/${principalId}`)
      expect(makeAuditEvent(event)).toEqual(event)
    }
    expect((await eventsOf(other)).map(({ action }) => action)).toEqual(['clinics.create'])
  })
})
