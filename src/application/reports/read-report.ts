import type { ConsentLevel } from '../../domain/report-document.ts'
import {
  loadEvaluation,
  loadProjection,
  loadReport,
  loadReportVersions,
  type ReportRow,
} from '../../store/report-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { perform, type Trace } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { listReportsOfEpisodes } from './list-reports-of-episodes.ts'
import { showReport, type ShownReport } from './show-report.ts'
import { summariseReports } from './summarise-reports.ts'

interface Asked {
  readonly reportId: string
  /** null: the newest. */
  readonly version: number | null
}

export async function readReport(ctx: Context, input: Asked): Promise<ShownReport> {
  return perform(ctx, 'reports.read', async (tx, trace) => {
    await named(tx, trace, input)
    return showReport(tx, ctx, input.reportId, input.version)
  })
}

export async function readReportVersions(ctx: Context, input: { reportId: string }) {
  return perform(ctx, 'reports.read', async (tx, trace) => {
    await named(tx, trace, { ...input, version: null })
    return { items: await summariseReports(tx, ctx, await loadReportVersions(tx, input.reportId)) }
  })
}

export async function listReports(ctx: Context, input: { episodeId: string }) {
  const [items = []] = await listReportsOfEpisodes(ctx, { episodeIds: [input.episodeId] })
  return { items }
}

/** One level as it was signed, for a surgeon who holds no account: the clinic hands the file on. */
export async function readProjection(ctx: Context, input: Asked & { level: ConsentLevel }) {
  return perform(ctx, 'reports.read', async (tx, trace) => {
    const row = await named(tx, trace, input)
    trace.detail('level', input.level)
    const { body, jws, keyId } = orNotFound(await loadProjection(tx, row, input.level))
    return { report: body as Record<string, unknown>, jws, keyId }
  })
}

/** The frozen evaluation behind a report, with all the evidence it looked at: enough to compute it again. */
export async function readReportEvaluation(ctx: Context, input: Asked) {
  return perform(ctx, 'reports.read', async (tx, trace) => {
    const { evaluationId } = await named(tx, trace, input)
    const { document, docHash } = orNotFound(await loadEvaluation(tx, evaluationId))
    return { id: evaluationId, sha256: Buffer.from(docHash).toString('hex'), evaluation: document }
  })
}

async function named(tx: ClinicTx, trace: Trace, { reportId, version }: Asked): Promise<ReportRow> {
  const row = orNotFound(await loadReport(tx, reportId, version))
  trace.subject(row.subjectId)
  trace.resource('report', `${row.id}@${row.version}`)
  return row
}
