import type { ClinicTx } from '../tenancy/with-clinic.ts'

export interface AuditEntry {
  readonly id: string
  readonly actorPrincipalId: string | null
  readonly actorRole: string | null
  readonly client: string | null
  readonly purpose: string | null
  readonly action: string
  readonly outcome: 'done' | 'refused' | 'failed'
  readonly requestId: string
  readonly subjectIds: readonly string[]
  readonly resourceIds: readonly string[]
  readonly details: Readonly<Record<string, unknown>>
}

/** Event and disclosures in one statement, inside the transaction of the effect. Numbered later, by the sealer. */
export async function appendAuditEvent(tx: ClinicTx, e: AuditEntry): Promise<void> {
  await tx.$executeRaw`
    with event as (
      insert into audit_event (clinic_id, id, actor_principal_id, actor_role, client, purpose, action, outcome,
                               request_id, subject_ids, resource_ids, details)
      values (${tx.clinicId}::uuid, ${e.id}::uuid, ${e.actorPrincipalId}::uuid, ${e.actorRole}, ${e.client},
              ${e.purpose}, ${e.action}, ${e.outcome}, ${e.requestId}, ${[...e.subjectIds]}::uuid[],
              ${JSON.stringify(e.resourceIds)}::jsonb, ${JSON.stringify(e.details)}::jsonb)
      returning clinic_id, id, at, subject_ids
    )
    insert into audit_disclosure (clinic_id, subject_id, event_id, at)
    select clinic_id, unnest(subject_ids), id, at from event`
}
