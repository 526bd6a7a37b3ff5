import { loadCurrencies, type ReportRow } from '../../store/report-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { dayIn } from '../shared/clinic-days.ts'
import { summariseReport, type ReportSummary } from './represent-report.ts'

/** As lists show them, each with what has become of its evidence since. */
export async function summariseReports(
  tx: ClinicTx,
  ctx: Context,
  rows: readonly ReportRow[],
): Promise<readonly ReportSummary[]> {
  const currencies = await loadCurrencies(tx, rows.map((row) => row.evaluationId)) // prettier-ignore
  return rows.map((row) => summariseReport(row, currencies, dayIn(ctx.actor.timeZone, ctx.now)))
}
