import { canonicalSha256 } from '../../domain/canonical-json.ts'
import { loadBasis, loadCurrencies, loadProjection, loadReport } from '../../store/report-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { dayIn } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import type { ClinicReport } from './project-report.ts'
import { representBasis, summariseReport } from './represent-report.ts'

/** A report as the clinic sees it: what was signed, unchanged, beside what has become of it since. */
export async function showReport(tx: ClinicTx, ctx: Context, id: string, version: number | null) {
  const row = orNotFound(await loadReport(tx, id, version))
  const signed = orNotFound(await loadProjection(tx, row, 'clinic'))
  const report = signed.body as ClinicReport
  const currencies = await loadCurrencies(tx, [row.evaluationId])
  return {
    ...summariseReport(row, currencies, dayIn(ctx.actor.timeZone, ctx.now)),
    report,
    sha256: canonicalSha256(report),
    jws: signed.jws,
    keyId: signed.keyId,
    basis: (await loadBasis(tx, row.evaluationId)).map(representBasis),
  }
}

export type ShownReport = Awaited<ReturnType<typeof showReport>>
