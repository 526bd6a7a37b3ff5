import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { eraseSubject } from '../../application/erasure/erase-subject.ts'
import { exportSubject } from '../../application/erasure/export-subject.ts'
import { listLegalHolds, placeLegalHold, releaseLegalHold } from '../../application/erasure/legal-holds.ts'
import {
  ERASURE_GROUNDS,
  erasureDocument,
  legalHoldDocument,
  legalHoldReleaseDocument,
} from '../../domain/erasure-document.ts'
import { created, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { creationHeaders, id, idParams, instant, listOf } from '../shapes/common.ts'

const legalHold = z
  .strictObject({
    id,
    subjectId: id,
    reason: z.string(),
    placedBy: id,
    placedAt: instant,
    releasedBy: id.nullable(),
    releasedAt: instant.nullable(),
    releasedReason: z.string().nullable(),
  })
  .meta({ id: 'LegalHold' })

const erasure = z
  .strictObject({
    subjectId: id,
    erasedAt: instant,
    ground: z.enum(ERASURE_GROUNDS),
    erased: z.record(z.string(), z.number().int()).describe('How many records went, by kind'),
    kept: z.array(z.string()),
    cannotBeRecalled: z.strictObject({
      teamReads: z.number().int().describe('How often teams have read of this subject'),
      statement: z.string(),
    }),
    backups: z.string(),
  })
  .meta({ id: 'Erasure' })

/** Tables of the subject as they are kept, its recordings in clear, and the accounting of disclosures. */
const archive = z
  .looseObject({
    format: z.literal('limb-ledger-subject-export/1'),
    subjectId: id,
    exportedAt: instant,
    complete: z.enum(['yes', 'no_erased_meanwhile']),
  }) // prettier-ignore
  .meta({ id: 'SubjectExport' })

export function erasureRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/export',
    action: 'subjects.export',
    tag: 'subjects',
    summary: 'Everything that is kept about one subject, as one JSON archive',
    description:
      'Every version of every record, recordings sample by sample, and who has seen or changed the data. Sent as it is read; an archive that was cut off does not end in "complete".', // prettier-ignore
    params: idParams('subjectId'),
    answers: { 200: archive },
    answer: async (ctx, { params }) => ({
      body: await exportSubject(ctx, { subjectId: params.subjectId.toLowerCase() }),
      type: 'application/json; charset=utf-8',
      headers: { 'Content-Disposition': `attachment; filename="subject-${params.subjectId.toLowerCase()}.json"` },
    }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/erasure',
    action: 'subjects.erase',
    tag: 'subjects',
    summary: 'Erase a subject, for good',
    description:
      'Removes every record of the subject and destroys the key of the texts about them in the audit ledger, whose entries and proofs stay. Refused while a legal hold is in force (409). What teams and others have already read cannot be recalled; the answer says so. Export first what has to be kept elsewhere.', // prettier-ignore
    params: idParams('subjectId'),
    headers: creationHeaders,
    body: erasureDocument,
    answers: { 201: erasure },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(
        await eraseSubject(ctx, {
          subjectId: input.params.subjectId.toLowerCase(),
          once: onceKey(input),
          document: input.document,
        }),
      ),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/legal-holds',
    action: 'legal-holds.list',
    tag: 'subjects',
    summary: 'The legal holds on a subject, released ones too',
    params: idParams('subjectId'),
    answers: { 200: listOf(legalHold) },
    answer: async (ctx, { params }) => ({ body: await listLegalHolds(ctx, params) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/legal-holds',
    action: 'legal-holds.place',
    tag: 'subjects',
    summary: 'Place a legal hold: nothing about the subject is erased until it is released',
    params: idParams('subjectId'),
    headers: creationHeaders,
    body: legalHoldDocument,
    answers: { 201: legalHold },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(
        await placeLegalHold(ctx, {
          subjectId: input.params.subjectId.toLowerCase(),
          once: onceKey(input),
          document: input.document,
        }),
      ),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/legal-holds/:holdId/release',
    action: 'legal-holds.release',
    tag: 'subjects',
    summary: 'Release a legal hold, once, with a reason',
    params: z.strictObject({ subjectId: z.uuid(), holdId: z.uuid() }),
    headers: creationHeaders,
    body: legalHoldReleaseDocument,
    answers: { 201: legalHold },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await releaseLegalHold(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })
}
