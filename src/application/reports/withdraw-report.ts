import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { lockNewestReport, withdrawReport } from '../../store/report-store.ts'
import { takeBack } from '../../store/share-store.ts'
import { requireLicence } from '../../tenancy/policy.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { showReport } from './show-report.ts'

/** What was signed stays readable in the clinic and verifiable wherever it went; every team's view loses it at once. */
export async function withdrawSignedReport(
  ctx: Context,
  input: { reportId: string; once: OnceKey; document: LazyDocument<{ reason: string }> },
): Promise<Created> {
  return createOnce(ctx, 'reports.withdraw', input.once, async (tx, trace) => {
    const newest = orNotFound(await lockNewestReport(tx, input.reportId))
    trace.subject(newest.subjectId)
    trace.resource('report', `${newest.id}@${newest.version}`)
    const { reason } = input.document().value
    trace.personal('reason', newest.subjectId, reason)
    requireLicence(ctx.actor)
    if (newest.state === 'withdrawn') throw new AppError('withdrawn')
    await withdrawReport(tx, { id: newest.id, version: newest.version }, {
      withdrawnAt: ctx.now,
      withdrawnBy: ctx.actor.principalId,
      withdrawnReason: reason,
    }) // prettier-ignore
    await takeBack(tx, { reportId: newest.id })
    const headers = { Location: `/v1/reports/${newest.id}` }
    return { status: 201, headers, body: await showReport(tx, ctx, newest.id, newest.version) }
  })
}
