import { describe, expect, it } from 'vitest'
import { v7 as uuidv7 } from 'uuid'
import { makeAuditEvent, type AuditEvent } from '../../src/ledger/canonical-event.ts'
import { addMember, createClinic, removeMember, withOwner } from '../../src/store/admin-store.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const issuer = 'https://issuer.test.example/realms/strength-lab'

describe('what an operator does', () => {
  it('is written in the words that the ledger takes, although it does not pass the frame of requests', async () => {
    const clinicId = await withOwner(database.adminUrl, async (client) => {
      const id = await createClinic(client, { name: 'Lowmoor', timeZone: 'Europe/London', issuers: [issuer] })
      const member = { clinicId: id, issuer, sub: uuidv7() }
      await addMember(client, { ...member, role: 'clinician', displayName: 'Example, Member', licence: 'LIC 1' })
      await removeMember(client, member)
      return id
    })
    const events = await withClient(database.adminUrl, async (client) => {
      const { rows } = await client.query<AuditEvent>(
        `select clinic_id as "clinicId", id, actor_principal_id as "actorPrincipalId", actor_role as "actorRole", client,
                purpose, action, outcome, request_id as "requestId", subject_ids as "subjectIds",
                resource_ids as "resourceIds", details
         from audit_event where clinic_id = $1 order by ord`,
        [clinicId],
      )
      return rows
    })
    expect(events.map(({ action }) => action)).toEqual(['clinics.create', 'members.add', 'members.remove'])
    for (const event of events) expect(makeAuditEvent(event)).toEqual(event)
    expect(JSON.stringify(events)).not.toContain('Example, Member')
  })
})
