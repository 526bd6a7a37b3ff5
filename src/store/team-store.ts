/** What a team reads, under the role of the teams: every statement here sees what its policies let through and nothing else. */
import type { ConsentLevel } from '../domain/report-document.ts'
import type { TeamTx } from '../tenancy/with-team.ts'

export interface TeamConsentRow {
  readonly clinicId: string
  readonly id: string
  readonly teamReference: string
  readonly displayName: string
  readonly level: ConsentLevel
  /** The last day, ISO. */
  readonly untilOn: string
}

export interface SharedReportRow {
  readonly clinicId: string
  readonly id: string
  readonly consentId: string
  readonly reportVersion: number
  readonly body: unknown
  readonly jws: string
  readonly evaluatedOn: string
  readonly expiresAt: Date
  readonly signedAt: Date
  readonly appearsAt: Date
}

export interface ChangeRow {
  readonly id: string
  readonly at: Date
  readonly gone: boolean
}

/** Consents in force that name the purpose. */
export async function loadTeamConsents(tx: TeamTx): Promise<TeamConsentRow[]> {
  return tx.$queryRaw<TeamConsentRow[]>`
    select clinic_id as "clinicId", id, team_reference as "teamReference", display_name as "displayName", level,
           until_on::text as "untilOn"
    from consent order by team_reference, clinic_id, id`
}

/** null: all that is there. */
export async function loadSharedReports(tx: TeamTx, ids: readonly string[] | null): Promise<SharedReportRow[]> {
  return tx.$queryRaw<SharedReportRow[]>`
    select r.clinic_id as "clinicId", r.id, r.consent_id as "consentId", r.report_version as "reportVersion", r.body, r.jws,
           r.evaluated_on::text as "evaluatedOn", r.expires_at as "expiresAt", r.signed_at as "signedAt",
           s.appears_at as "appearsAt"
    from shared_report r join report_share s on s.clinic_id = r.clinic_id and s.id = r.id
    where ${ids === null} or r.id = any(${[...(ids ?? [])]}::uuid[])`
}

/** Two words on each report of these clinics, from a function that tells the role no more. */
export async function loadTeamCurrencies(
  tx: TeamTx,
  clinicIds: readonly string[],
): Promise<ReadonlyMap<string, { affected: boolean; newerTest: boolean }>> {
  const rows = await tx.$queryRaw<{ id: string; affected: boolean; newerTest: boolean }[]>`
    select f.id, f.affected, f.newer_test as "newerTest"
    from unnest(${[...clinicIds]}::uuid[]) c (id), shared_report_currency(c.id) f`
  return new Map(rows.map(({ id, ...currency }) => [id, currency]))
}

/**
 * What appeared or went after a moment, oldest first, each report once with its last change. What went is told apart neither by
 * cause nor by whether the team ever read it.
 */
export async function loadChanges(tx: TeamTx, after: { at: Date; id: string }, take: number): Promise<ChangeRow[]> {
  return tx.$queryRaw<ChangeRow[]>`
    with change as (
      select id, gone_at <= now() as gone, case when gone_at <= now() then gone_at else appears_at end as at from report_share
    )
    select id, at, gone from change where (at, id) > (${after.at}, ${after.id}::uuid) order by at, id limit ${take}`
}

export interface TeamEvent {
  readonly eventId: string
  readonly clinicId: string
  readonly principalId: string
  readonly client: string | null
  readonly action: string
  readonly requestId: string
  readonly sharedIds: readonly string[]
  readonly details: Readonly<Record<string, string | number | boolean>>
}

/** Into the log of a clinic, in the transaction of the pull; the subjects are looked up by the database. */
export async function appendTeamEvent(tx: TeamTx, event: TeamEvent): Promise<void> {
  await tx.$queryRaw`
    select 1 as done from append_team_event(
      ${event.clinicId}::uuid, ${event.eventId}::uuid, ${event.principalId}::uuid, ${event.client}, ${tx.purpose},
      ${event.action}, ${event.requestId}, ${[...event.sharedIds]}::uuid[], ${JSON.stringify(event.details)}::jsonb)`
}
