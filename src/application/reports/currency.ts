import type { ReportCurrency } from '../../domain/report-document.ts'

/** One word for a report that may be several: what weighs most comes first, and only what is none of them is current. */
export function currencyOf(of: { affected: boolean; newerTest: boolean; stale: boolean }): ReportCurrency {
  if (of.affected) return 'affected_by_amendment'
  if (of.stale) return 'stale'
  return of.newerTest ? 'newer_test_exists' : 'current'
}
