import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { exportAuditLog } from '../../application/audit/export-audit-log.ts'
import { listAuditEvents } from '../../application/audit/list-audit-events.ts'
import { listDisclosures } from '../../application/audit/list-disclosures.ts'
import { proveEntry, proveGrowth } from '../../application/audit/prove-entry.ts'
import { readTreeHead } from '../../application/audit/read-tree-head.ts'
import { sealAuditLog } from '../../application/audit/seal-audit-log.ts'
import { verifyAuditLog } from '../../application/audit/verify-audit-log.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { idParams, pagingQuery } from '../shapes/common.ts'
import { auditFilter } from '../audit-filter.ts'
import { auditQuery } from '../shapes/queries.ts'
import * as shapes from '../shapes/audit.ts'

const place = z.coerce.number().int().min(1).max(Number.MAX_SAFE_INTEGER)
const epochQuery = place.max(2_147_483_647).optional().describe('The newest if absent')

export function auditRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/audit/events',
    action: 'audit.read',
    tag: 'audit',
    summary: 'The audit log, newest first',
    description:
      'Who did what to whose data, reads and refusals included, sealed or not yet. Texts about a person are shown while the key of that person exists. This reading is an event as well.', // prettier-ignore
    query: pagingQuery.extend(auditQuery.shape),
    answers: { 200: shapes.auditEvents },
    answer: async (ctx, { query: { limit, cursor, ...query } }) => ({
      body: await listAuditEvents(ctx, { page: pageRequest({ limit, cursor }), filter: auditFilter(query) }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/audit/export',
    action: 'audit.export',
    tag: 'audit',
    summary: 'Every sealed entry of the audit log',
    description:
      'NDJSON is what `limb-ledger verify-audit` verifies offline, as src/ledger/verify/EXPORT-FORMAT.md describes it; texts about people stay encrypted in it. CSV is for reading and proves nothing; cells that a spreadsheet would run as formulas begin with an apostrophe. Entries that are not sealed yet are in neither: POST /v1/audit/seal first.', // prettier-ignore
    query: z.strictObject({ format: z.enum(['ndjson', 'csv']).optional().describe('ndjson if absent') }),
    answers: {},
    otherTypes: { 'application/x-ndjson': z.string(), 'text/csv': z.string() },
    answer: async (ctx, { query }) => {
      const form = query.format ?? 'ndjson'
      const type = form === 'csv' ? 'text/csv; charset=utf-8; header=present' : 'application/x-ndjson; charset=utf-8'
      const headers = { 'Content-Disposition': `attachment; filename="audit-log.${form}"` }
      return { body: await exportAuditLog(ctx, form), type, headers }
    },
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/audit/seal',
    action: 'audit.seal',
    tag: 'audit',
    summary: 'Seal now what is not sealed yet',
    description:
      'Everything that was committed before this call goes under a signed and witnessed tree head, the event of this call included. `complete: false`: a transaction was still running, and the rest follows with the next seal.', // prettier-ignore
    answers: { 200: shapes.sealed },
    answer: async (ctx) => ({ body: await sealAuditLog(ctx) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/audit/tree-head',
    action: 'audit.read',
    tag: 'audit',
    summary: 'The newest signed tree head',
    description: 'Public keys: /.well-known/limb-ledger/jwks.json. Keep them from a moment you trust.',
    answers: { 200: shapes.treeHead },
    refusals: [404],
    answer: async (ctx) => ({ body: await readTreeHead(ctx) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/audit/inclusion-proof',
    action: 'audit.read',
    tag: 'audit',
    summary: 'Proof that one entry is in the sealed log (RFC 9162, 2.1.3)',
    query: z.strictObject({
      sequence: place.describe('Of the entry, from 1'),
      size: place.optional().describe('Of the tree; that of the newest head if absent'),
      epoch: epochQuery,
    }),
    answers: { 200: shapes.inclusionProof },
    refusals: [404],
    answer: async (ctx, { query }) => ({
      body: await proveEntry(ctx, { sequence: query.sequence, size: query.size ?? null, epoch: query.epoch ?? null }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/audit/consistency-proof',
    action: 'audit.read',
    tag: 'audit',
    summary: 'Proof that an earlier state of the log is the beginning of a later one (RFC 9162, 2.1.4)',
    query: z.strictObject({
      first: place.describe('Size of the earlier tree, from 1'),
      second: place.optional().describe('Size of the later tree; that of the newest head if absent'),
      epoch: epochQuery,
    }),
    answers: { 200: shapes.consistencyProof },
    refusals: [404],
    answer: async (ctx, { query }) => ({
      body: await proveGrowth(ctx, { first: query.first, second: query.second ?? null, epoch: query.epoch ?? null }),
    }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/audit/verification',
    action: 'audit.verify',
    tag: 'audit',
    summary: 'Verify the whole log: progress, then a report that names the first bad entry',
    description:
      'Every entry against its hash, every head against its signature and the tree, the log against the witness, and every event in the database against its entry and against what lists are made from. The answer comes line by line: {"progress"} as it goes, the last line is {"report"}, or {"notVerified"} when the witness is missing or damaged. An answer without such a last line was cut off.', // prettier-ignore
    answers: {},
    otherTypes: { 'application/x-ndjson': shapes.verificationLines },
    answer: async (ctx) => {
      const lines = await verifyAuditLog(ctx)
      return { body: asText(lines), type: 'application/x-ndjson; charset=utf-8' }
    },
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/disclosures',
    action: 'disclosures.read',
    tag: 'audit',
    summary: 'Accounting of disclosures: who has seen or changed the data of this subject',
    description: 'Newest first, this request included. Refusals showed nothing and are left out. Outlives an erasure.',
    params: idParams('subjectId'),
    query: pagingQuery,
    answers: { 200: shapes.disclosures },
    answer: async (ctx, { params, query }) => {
      const body = await listDisclosures(ctx, { subjectId: params.subjectId.toLowerCase(), page: pageRequest(query) })
      return { body }
    },
  })
}

async function* asText(lines: AsyncIterable<unknown>): AsyncGenerator<string> {
  for await (const line of lines) yield `${JSON.stringify(line)}\n`
}
