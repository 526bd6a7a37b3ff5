import { stringify } from 'csv-stringify/sync'
import { exportLines } from '../../ledger/export-log.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { clinicReader } from './clinic-reader.ts'

/**
 * Every sealed entry. NDJSON is what verify-audit verifies (ledger/verify/EXPORT-FORMAT.md); CSV is for eyes and
 * spreadsheets and proves nothing. The event of the export is committed before its first byte leaves.
 */
export async function exportAuditLog(ctx: Context, form: 'ndjson' | 'csv'): Promise<AsyncIterable<string>> {
  await perform(ctx, 'audit.export', (_tx, trace) => Promise.resolve(trace.detail('form', form)))
  const lines = exportLines(clinicReader(ctx), ctx.actor.clinicId, ctx.now)
  return form === 'ndjson' ? withLineFeeds(lines) : csvOf(lines)
}

async function* withLineFeeds(lines: AsyncIterable<string>): AsyncGenerator<string> {
  for await (const line of lines) yield `${line}\n`
}

interface Entry {
  readonly epoch: number
  readonly sequence: number
  readonly at: string
  readonly id: string
  readonly actor: { readonly principalId: string | null; readonly role: string | null; readonly client: string | null }
  readonly purpose: string | null
  readonly action: string
  readonly outcome: string
  readonly requestId: string
  readonly subjectIds: readonly string[]
  readonly resourceIds: unknown
  readonly details: unknown
}

/** A cell that a spreadsheet would run as a formula gets an apostrophe before it; numbers stay numbers. */
const CSV = { escape_formulas: true, record_delimiter: 'windows' } as const

const COLUMNS: readonly (readonly [name: string, of: (entry: Entry) => string | number | null])[] = [
  ['epoch', (e) => e.epoch],
  ['sequence', (e) => e.sequence],
  ['at', (e) => e.at],
  ['action', (e) => e.action],
  ['outcome', (e) => e.outcome],
  ['actor', (e) => e.actor.principalId],
  ['role', (e) => e.actor.role],
  ['client', (e) => e.actor.client],
  ['purpose', (e) => e.purpose],
  ['subjects', (e) => e.subjectIds.join(' ')],
  ['resources', (e) => JSON.stringify(e.resourceIds)],
  ['details', (e) => JSON.stringify(e.details)],
  ['request', (e) => e.requestId],
  ['event', (e) => e.id],
]

async function* csvOf(lines: AsyncIterable<string>): AsyncGenerator<string> {
  yield stringify([COLUMNS.map(([name]) => name)], CSV)
  for await (const line of lines) {
    const { entry } = JSON.parse(line) as { entry?: string }
    if (entry === undefined) continue
    const parsed = JSON.parse(entry) as Entry
    yield stringify([COLUMNS.map(([, of]) => of(parsed))], CSV)
  }
}
