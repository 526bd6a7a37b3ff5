/** Consents to teams, and which teams a clinic has invited. */
import type { ConsentLevel } from '../domain/report-document.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, dateOnly } from './dates.ts'
import type { Consent } from './generated/client.ts'

export interface ConsentWrite {
  readonly id: string
  readonly subjectId: string
  readonly teamId: string
  readonly teamReference: string
  readonly displayName: string
  readonly level: ConsentLevel
  readonly purposes: string[]
  readonly fromOn: string
  readonly untilOn: string
  /** The first and last day as instants: from the start of one to the end of the other, in the zone of the clinic. */
  readonly validFrom: Date
  readonly validUntil: Date
  readonly episodeId: string | null
  readonly guardian: string | null
  readonly documentReference: string | null
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface ConsentRow extends ConsentWrite {
  readonly revokedAt: Date | null
  readonly revokedReason: string | null
}

export async function insertConsent(tx: ClinicTx, write: ConsentWrite): Promise<void> {
  await tx.consent.create({
    data: { ...write, clinicId: tx.clinicId, fromOn: asDate(write.fromOn), untilOn: asDate(write.untilOn) },
  })
}

export async function lockConsent(tx: ClinicTx, id: string): Promise<ConsentRow | null> {
  const locked = await tx.$queryRaw<unknown[]>`
    select 1 as found from consent where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  if (locked.length === 0) return null
  const row = await tx.consent.findUnique({ where: { clinicId_id: { clinicId: tx.clinicId, id } } })
  return row === null ? null : toRow(row)
}

export async function revokeConsent(
  tx: ClinicTx,
  id: string,
  revocation: { revokedAt: Date; revokedBy: string; revokedReason: string },
): Promise<void> {
  await tx.consent.updateMany({ where: { clinicId: tx.clinicId, id }, data: revocation })
}

/** Newest first; revoked and ended ones too. */
export async function loadConsents(tx: ClinicTx, subjectId: string): Promise<ConsentRow[]> {
  const rows = await tx.consent.findMany({
    where: { clinicId: tx.clinicId, subjectId },
    orderBy: { id: 'desc' },
  })
  return rows.map(toRow)
}

/** Those not revoked whose last day has not passed, of all subjects of the clinic to one team or of one subject to all teams. */
export async function loadOpenConsents(
  tx: ClinicTx,
  of: { teamId: string } | { subjectId: string },
  now: Date,
): Promise<ConsentRow[]> {
  const rows = await tx.consent.findMany({
    where: { clinicId: tx.clinicId, ...of, revokedAt: null, validUntil: { gt: now } },
    orderBy: { id: 'asc' },
  })
  return rows.map(toRow)
}

export interface InvitationRow {
  readonly teamId: string
  readonly teamName: string
  readonly invitedBy: string
  readonly invitedAt: Date
}

/** null: there is no such team. */
export async function findTeamName(tx: ClinicTx, teamId: string): Promise<string | null> {
  const rows = await tx.$queryRaw<{ name: string }[]>`select name from find_team(${teamId}::uuid)`
  return rows[0]?.name ?? null
}

export async function insertInvitation(tx: ClinicTx, write: InvitationRow): Promise<void> {
  await tx.teamInvitation.create({ data: { ...write, clinicId: tx.clinicId } })
}

export async function findInvitation(tx: ClinicTx, teamId: string): Promise<InvitationRow | null> {
  return tx.teamInvitation.findUnique({ where: { clinicId_teamId: { clinicId: tx.clinicId, teamId } } })
}

export async function listInvitations(tx: ClinicTx): Promise<InvitationRow[]> {
  return tx.teamInvitation.findMany({ where: { clinicId: tx.clinicId }, orderBy: { invitedAt: 'asc' } })
}

function toRow(row: Consent): ConsentRow {
  return {
    ...row,
    level: row.level as ConsentLevel,
    fromOn: dateOnly(row.fromOn),
    untilOn: dateOnly(row.untilOn),
  }
}
