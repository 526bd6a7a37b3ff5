/** Sets whose analysis is not of the release or the choices in force, and the switch from the old analysis to a new one. */
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { Prisma } from './generated/client.ts'

export interface StaleSet {
  readonly setId: string
  readonly analysisId: string
  readonly sessionId: string
  readonly sessionVersion: number
  readonly subjectId: string
}

export interface Target {
  readonly computeVersion: string
  readonly paramsHash: Uint8Array<ArrayBuffer>
}

/** In order of their id, after one already looked at. Reported values have no recording to be analysed again. */
export async function loadStaleSets(
  tx: ClinicTx,
  target: Target,
  filter: { readonly subjectId: string | null; readonly after: string | null; readonly take: number },
): Promise<StaleSet[]> {
  const ofSubject = filter.subjectId === null ? Prisma.empty : Prisma.sql`and v.subject_id = ${filter.subjectId}::uuid`
  const after = filter.after === null ? Prisma.empty : Prisma.sql`and a.set_id > ${filter.after}::uuid`
  return tx.$queryRaw<StaleSet[]>`
    select a.set_id as "setId", a.id as "analysisId", t.session_id as "sessionId",
           t.session_version as "sessionVersion", v.subject_id as "subjectId"
    from analysis a
    join test_set t on t.clinic_id = a.clinic_id and t.id = a.set_id and t.recording_sha is not null
    join session_version v
      on v.clinic_id = t.clinic_id and v.session_id = t.session_id and v.version = t.session_version
    where a.clinic_id = ${tx.clinicId}::uuid and a.superseded_at is null
      and (a.compute_version <> ${target.computeVersion} or a.params_hash <> ${target.paramsHash})
      ${ofSubject} ${after}
    order by a.set_id limit ${filter.take}`
}

/** What an analysis was made with, as kept. */
export async function loadAnalysis(
  tx: ClinicTx,
  id: string,
): Promise<{ findings: unknown; superseded: boolean } | null> {
  const row = await tx.analysis.findUnique({
    where: { clinicId_id: { clinicId: tx.clinicId, id } },
    select: { findings: true, supersededAt: true },
  })
  return row === null ? null : { findings: row.findings, superseded: row.supersededAt !== null }
}

/** False: someone else amended, withdrew or analysed the set in the meantime, and nothing was done. */
export async function supersedeAnalysis(tx: ClinicTx, analysisId: string, at: Date): Promise<boolean> {
  const taken = await tx.analysis.updateMany({
    where: { clinicId: tx.clinicId, id: analysisId, supersededAt: null },
    data: { supersededAt: at },
  })
  if (taken.count === 0) return false
  await tx.setResult.updateMany({
    where: { clinicId: tx.clinicId, analysisId, isCurrent: true },
    data: { isCurrent: false, supersededAt: at },
  })
  return true
}
