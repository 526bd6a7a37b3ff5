/** Evaluations that were frozen, the reports that rest on them, and what is signed of each. Nothing here is ever changed. */
import type { ConsentLevel, ReportDecision } from '../domain/report-document.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, dateOnly } from './dates.ts'
import type { Prisma, Report } from './generated/client.ts'
import { stillThere } from './still-there.ts'

export interface EvaluationWrite {
  readonly id: string
  readonly episodeId: string
  readonly effectiveOn: string
  readonly knownAt: Date
  readonly document: unknown
  readonly docHash: Uint8Array<ArrayBuffer>
  readonly evidenceUntil: Date
  /** Ids of results, functional results and observations. */
  readonly basis: readonly string[]
}

export interface ReportWrite {
  readonly id: string
  readonly version: number
  readonly evaluationId: string
  readonly subjectId: string
  readonly decision: ReportDecision
  readonly note: string
  readonly reason: string | null
  readonly signerId: string
  readonly signedAt: Date
  readonly expiresOn: string
}

export interface ReportRow extends Omit<ReportWrite, 'note'> {
  readonly episodeId: string
  readonly state: 'signed' | 'superseded' | 'withdrawn'
  readonly withdrawnAt: Date | null
  readonly withdrawnReason: string | null
  readonly evaluatedOn: string
}

export interface ProjectionWrite {
  readonly level: 'clinic' | ConsentLevel
  readonly salt: Uint8Array<ArrayBuffer>
  readonly body: unknown
  readonly jws: string
  readonly keyId: string
}

export async function insertEvaluation(tx: ClinicTx, { basis, ...write }: EvaluationWrite): Promise<void> {
  const { clinicId } = tx
  await tx.evaluation.create({
    data: {
      ...write,
      clinicId,
      effectiveOn: asDate(write.effectiveOn),
      document: write.document as Prisma.InputJsonValue,
    },
  })
  await tx.evaluationBasis.createMany({
    data: basis.map((resultId) => ({ clinicId, evaluationId: write.id, resultId })),
  })
}

/** The version before, if there is one, is superseded in the same statement order as its successor is written. */
export async function insertReport(
  tx: ClinicTx,
  write: ReportWrite,
  projections: readonly ProjectionWrite[],
): Promise<void> {
  const { clinicId } = tx
  if (write.version > 1) {
    await tx.report.updateMany({
      where: { clinicId, id: write.id, version: write.version - 1, state: 'signed' },
      data: { state: 'superseded' },
    })
  }
  await tx.report.create({ data: { ...write, clinicId, state: 'signed', expiresOn: asDate(write.expiresOn) } })
  await tx.reportProjection.createMany({
    data: projections.map((projection) => ({
      ...projection,
      clinicId,
      reportId: write.id,
      reportVersion: write.version,
      body: projection.body as Prisma.InputJsonValue,
    })),
  })
}

export async function withdrawReport(
  tx: ClinicTx,
  report: { id: string; version: number },
  withdrawal: { withdrawnAt: Date; withdrawnBy: string; withdrawnReason: string },
): Promise<void> {
  await tx.report.updateMany({
    where: { clinicId: tx.clinicId, ...report },
    data: { state: 'withdrawn', ...withdrawal },
  })
}

/** Its newest version, locked until the transaction ends; null: no such report. */
export async function lockNewestReport(tx: ClinicTx, id: string): Promise<ReportRow | null> {
  const locked = await tx.$queryRaw<{ version: number }[]>`
    select version from report where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid order by version for update`
  const newest = locked.at(-1)
  return newest === undefined ? null : loadReport(tx, id, newest.version)
}

/** null asks for the newest version. */
export async function loadReport(tx: ClinicTx, id: string, version: number | null): Promise<ReportRow | null> {
  const row = await tx.report.findFirst({
    where: { clinicId: tx.clinicId, id, ...(version === null ? {} : { version }) },
    include: WITH_EVALUATION,
    orderBy: { version: 'desc' },
  })
  return (row === null ? [] : stillThere([row], 'evaluation').map(toRow))[0] ?? null
}

export async function loadReportVersions(tx: ClinicTx, id: string): Promise<ReportRow[]> {
  const rows = await tx.report.findMany({
    where: { clinicId: tx.clinicId, id },
    include: WITH_EVALUATION,
    orderBy: { version: 'asc' },
  })
  return stillThere(rows, 'evaluation').map(toRow)
}

/** Every version of every report of the episodes, newest first. */
export async function loadReportsOfEpisodes(tx: ClinicTx, episodeIds: readonly string[]): Promise<ReportRow[]> {
  const rows = await tx.report.findMany({
    where: { clinicId: tx.clinicId, evaluation: { episodeId: { in: [...episodeIds] } } },
    include: WITH_EVALUATION,
    orderBy: [{ signedAt: 'desc' }, { id: 'desc' }, { version: 'desc' }],
  })
  return stillThere(rows, 'evaluation').map(toRow)
}

/** The report that speaks for a subject now: the last signed of those neither superseded nor withdrawn. */
export async function loadLatestReport(
  tx: ClinicTx,
  of: { subjectId: string; episodeId: string | null },
): Promise<ReportRow | null> {
  const row = await tx.report.findFirst({
    where: {
      clinicId: tx.clinicId,
      subjectId: of.subjectId,
      state: 'signed',
      ...(of.episodeId === null ? {} : { evaluation: { episodeId: of.episodeId } }),
    },
    include: WITH_EVALUATION,
    orderBy: [{ signedAt: 'desc' }, { id: 'desc' }],
  })
  return (row === null ? [] : stillThere([row], 'evaluation').map(toRow))[0] ?? null
}

export async function loadProjection(
  tx: ClinicTx,
  report: { id: string; version: number },
  level: ProjectionWrite['level'],
): Promise<{ body: unknown; jws: string; keyId: string } | null> {
  return tx.reportProjection.findFirst({
    where: { clinicId: tx.clinicId, reportId: report.id, reportVersion: report.version, level },
    select: { body: true, jws: true, keyId: true },
  })
}

export async function loadEvaluation(
  tx: ClinicTx,
  id: string,
): Promise<{ document: unknown; docHash: Uint8Array } | null> {
  return tx.evaluation.findUnique({
    where: { clinicId_id: { clinicId: tx.clinicId, id } },
    select: { document: true, docHash: true },
  })
}

/** What became of the evidence since: two facts, found at read, that change nothing of what was signed. */
export async function loadCurrencies(
  tx: ClinicTx,
  evaluationIds: readonly string[],
): Promise<ReadonlyMap<string, { affected: boolean; newerTest: boolean }>> {
  const rows = await tx.$queryRaw<{ id: string; affected: boolean; newerTest: boolean }[]>`
    select e.id, c.affected, c.newer_test as "newerTest"
    from unnest(${[...new Set(evaluationIds)]}::uuid[]) e (id), evaluation_currency(e.id) c`
  return new Map(rows.map(({ id, ...currency }) => [id, currency]))
}

/** Where each result behind an evaluation comes from, and whether it still is in force. */
export interface BasisRow {
  readonly id: string
  readonly kind: 'result' | 'functional_result' | 'observation'
  readonly inForce: boolean
  readonly sessionId: string | null
  readonly sessionVersion: number | null
  readonly setKey: string | null
  readonly setupId: string | null
  readonly setupKey: string | null
  /** Hex; null: reported values, or no strength test. */
  readonly recordingSha256: string | null
  readonly computeVersion: string | null
}

export async function loadBasis(tx: ClinicTx, evaluationId: string): Promise<BasisRow[]> {
  return tx.$queryRaw<BasisRow[]>`
    select b.result_id as id,
           case when r.id is not null then 'result' when f.id is not null then 'functional_result' else 'observation' end as kind,
           coalesce(r.is_current, f.superseded_at is null and o.superseded_at is null) as "inForce",
           coalesce(r.session_id, f.session_id) as "sessionId", coalesce(r.session_version, f.session_version) as "sessionVersion",
           t.key as "setKey", s.id as "setupId", s.key as "setupKey", encode(t.recording_sha, 'hex') as "recordingSha256",
           a.compute_version as "computeVersion"
    from evaluation_basis b
    left join set_result r on r.clinic_id = b.clinic_id and r.id = b.result_id
    left join analysis a on a.clinic_id = r.clinic_id and a.id = r.analysis_id
    left join test_set t on t.clinic_id = r.clinic_id and t.id = r.set_id
    left join setup s on s.clinic_id = t.clinic_id and s.id = t.setup_id
    left join functional_result f on f.clinic_id = b.clinic_id and f.id = b.result_id
    left join clinician_observation o on o.clinic_id = b.clinic_id and o.id = b.result_id
    where b.clinic_id = ${tx.clinicId}::uuid and b.evaluation_id = ${evaluationId}::uuid
    order by kind desc, b.result_id`
}

const WITH_EVALUATION = { evaluation: { select: { episodeId: true, effectiveOn: true } } } as const

function toRow(row: Report & { evaluation: { episodeId: string; effectiveOn: Date } }): ReportRow {
  const { evaluation, ...report } = row
  return {
    ...report,
    state: row.state as ReportRow['state'],
    decision: row.decision as ReportDecision,
    expiresOn: dateOnly(row.expiresOn),
    episodeId: evaluation.episodeId,
    evaluatedOn: dateOnly(evaluation.effectiveOn),
  }
}
