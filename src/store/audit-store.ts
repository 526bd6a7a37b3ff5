import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { Prisma } from './generated/client.ts'

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
  /** JSON, as the ledger's event holds it. */
  readonly resourceIds: unknown
  readonly details: unknown
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

export interface AuditEventRow extends Omit<AuditEntry, 'resourceIds' | 'details'> {
  readonly at: Date
  readonly actorName: string | null
  /** Place in the sealed log; null while it waits for its seal. */
  readonly epoch: number | null
  readonly sequence: bigint | null
  readonly resourceIds: unknown
  readonly details: unknown
}

export interface AuditFilter {
  readonly subjectId: string | null
  readonly actorPrincipalId: string | null
  readonly action: string | null
  readonly outcome: string | null
  readonly requestId: string | null
  readonly from: Date | null
  readonly to: Date | null
}

/** Newest first; `after` is the id of the last event of the page before. */
export async function listAuditEvents(
  tx: ClinicTx,
  filter: AuditFilter,
  page: { after: string | null; take: number },
): Promise<AuditEventRow[]> {
  const clinic = Prisma.sql`${tx.clinicId}::uuid`
  const conditions = [
    Prisma.sql`e.clinic_id = ${clinic}`,
    ...(filter.subjectId === null
      ? []
      : [
          Prisma.sql`exists (select from audit_disclosure d where d.clinic_id = e.clinic_id
                       and d.subject_id = ${filter.subjectId}::uuid and d.event_id = e.id)`,
        ]),
    ...(filter.actorPrincipalId === null ? [] : [Prisma.sql`e.actor_principal_id = ${filter.actorPrincipalId}::uuid`]),
    ...(filter.action === null ? [] : [Prisma.sql`e.action = ${filter.action}`]),
    ...(filter.outcome === null ? [] : [Prisma.sql`e.outcome = ${filter.outcome}`]),
    ...(filter.requestId === null ? [] : [Prisma.sql`e.request_id = ${filter.requestId}`]),
    ...(filter.from === null ? [] : [Prisma.sql`e.at >= ${filter.from}`]),
    ...(filter.to === null ? [] : [Prisma.sql`e.at < ${filter.to}`]),
    ...(page.after === null
      ? []
      : [
          Prisma.sql`(e.at, e.id) < ((select at from audit_event where clinic_id = ${clinic}
                       and id = ${page.after}::uuid), ${page.after}::uuid)`,
        ]),
  ]
  return tx.$queryRaw<AuditEventRow[]>`
    select e.id::text as id, e.at, l.epoch, l.seq as sequence, e.actor_principal_id::text as "actorPrincipalId",
           e.actor_role as "actorRole", m.display_name as "actorName", e.client, e.purpose, e.action, e.outcome,
           e.request_id as "requestId", coalesce(e.subject_ids, '{}')::text[] as "subjectIds",
           e.resource_ids as "resourceIds", e.details
    from audit_event e
    left join audit_leaf l on l.clinic_id = e.clinic_id and l.event_id = e.id
    left join membership m on m.clinic_id = e.clinic_id and m.principal_id = e.actor_principal_id
    where ${Prisma.join(conditions, ' and ')}
    order by e.at desc, e.id desc limit ${page.take}`
}

/** Whether the clinic ever knew this subject, by what is left of it: the person, an erasure, or an event that names it. */
export async function subjectEverKnown(tx: ClinicTx, subjectId: string): Promise<{ erasedAt: Date | null } | null> {
  const rows = await tx.$queryRaw<{ known: boolean; erasedAt: Date | null }[]>`
    select (select erased_at from erasure where clinic_id = ${tx.clinicId}::uuid and subject_id = ${subjectId}::uuid) as "erasedAt",
           exists (select from subject where clinic_id = ${tx.clinicId}::uuid and id = ${subjectId}::uuid)
        or exists (select from erasure where clinic_id = ${tx.clinicId}::uuid and subject_id = ${subjectId}::uuid)
        or exists (select from audit_disclosure where clinic_id = ${tx.clinicId}::uuid and subject_id = ${subjectId}::uuid)
           as known`
  const row = rows[0]
  return row?.known === true ? { erasedAt: row.erasedAt } : null
}

/** How often teams have read of a subject: what went to them is out of reach. */
export async function countTeamReads(tx: ClinicTx, subjectId: string): Promise<number> {
  const rows = await tx.$queryRaw<{ reads: bigint }[]>`
    select count(*) as reads from audit_disclosure d
    join audit_event e on e.clinic_id = d.clinic_id and e.id = d.event_id
    where d.clinic_id = ${tx.clinicId}::uuid and d.subject_id = ${subjectId}::uuid
      and e.actor_role = 'team_reader' and e.outcome = 'done'`
  return Number(rows[0]?.reads ?? 0)
}
