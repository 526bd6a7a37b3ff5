/** What the clinic lays out for a team: one signed projection per consent and report version, and when it is there. */
import type { ConsentLevel } from '../domain/report-document.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate } from './dates.ts'
import type { Prisma } from './generated/client.ts'

export interface ShareWrite {
  readonly id: string
  readonly teamId: string
  readonly consentId: string
  readonly reportId: string
  readonly reportVersion: number
  readonly appearsAt: Date
  readonly goneAt: Date
  readonly level: ConsentLevel
  readonly evaluatedOn: string
  readonly expiresAt: Date
  readonly signedAt: Date
  readonly body: unknown
  readonly jws: string
  readonly keyId: string
}

/** The id under which a team knows a report already; null: it does not. */
export async function findShareId(tx: ClinicTx, consentId: string, reportId: string): Promise<string | null> {
  const row = await tx.reportShare.findUnique({
    where: { clinicId_consentId_reportId: { clinicId: tx.clinicId, consentId, reportId } },
    select: { id: true },
  })
  return row?.id ?? null
}

/** A further version stands under the id of the one before and takes its place at once. */
export async function layOut(tx: ClinicTx, write: ShareWrite): Promise<void> {
  const { clinicId } = tx
  const { id, teamId, consentId, reportId, reportVersion, appearsAt, goneAt, ...content } = write
  await tx.reportShare.upsert({
    where: { clinicId_consentId_reportId: { clinicId, consentId, reportId } },
    create: { clinicId, id, teamId, consentId, reportId, reportVersion, appearsAt, goneAt },
    update: { reportVersion, appearsAt, goneAt },
  })
  await tx.sharedReport.create({
    data: {
      ...content,
      clinicId,
      id,
      teamId,
      consentId,
      reportVersion,
      evaluatedOn: asDate(write.evaluatedOn),
      body: write.body as Prisma.InputJsonValue,
    },
  })
}

/** Ends at the database's own time, by which the team's lock is read. */
export async function takeBack(tx: ClinicTx, of: { consentId: string } | { reportId: string }): Promise<void> {
  if ('consentId' in of) {
    await tx.$executeRaw`
      update report_share set gone_at = least(gone_at, date_trunc('milliseconds', now()))
      where clinic_id = ${tx.clinicId}::uuid and consent_id = ${of.consentId}::uuid`
    return
  }
  await tx.$executeRaw`
    update report_share set gone_at = least(gone_at, date_trunc('milliseconds', now()))
    where clinic_id = ${tx.clinicId}::uuid and report_id = ${of.reportId}::uuid`
}

/** One report speaks for an episode: what was laid out of earlier ones is taken back, so that none returns when it is withdrawn. */
export async function takeBackEarlier(tx: ClinicTx, episodeId: string, exceptReportId: string): Promise<void> {
  await tx.$executeRaw`
    update report_share s set gone_at = least(s.gone_at, date_trunc('milliseconds', now()))
    from report r join evaluation e on e.clinic_id = r.clinic_id and e.id = r.evaluation_id
    where s.clinic_id = ${tx.clinicId}::uuid and r.clinic_id = s.clinic_id and r.id = s.report_id
      and r.version = s.report_version and e.episode_id = ${episodeId}::uuid and s.report_id <> ${exceptReportId}::uuid`
}
