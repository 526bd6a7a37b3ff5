import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import {
  listReports,
  readProjection,
  readReport,
  readReportEvaluation,
  readReportVersions,
} from '../../application/reports/read-report.ts'
import { signReport, signReportVersion } from '../../application/reports/sign-report.ts'
import { withdrawSignedReport } from '../../application/reports/withdraw-report.ts'
import * as lists from '../../domain/code-lists.ts'
import { reportDocument, reportVersionDocument, reportWithdrawalDocument } from '../../domain/report-document.ts'
import { created, onceKey, prefersJose } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { creationHeaders, idParams, listOf } from '../shapes/common.ts'
import { frozenEvaluation, reportSummary, shownReport, signedProjection } from '../shapes/report.ts'

const version = z.coerce.number().int().min(1).max(1_000_000).optional().describe('The newest if absent')
const byVersion = z.strictObject({ version })

export function reportRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/episodes/:episodeId/reports',
    action: 'reports.sign',
    tag: 'reports',
    summary: 'Freeze an evaluation with a decision, and sign both',
    description:
      'By a clinician with a licence on record, whose decision it is. What is signed is never changed: a new version takes its place, or it is withdrawn. For teams it takes the place of earlier reports of the episode.', // prettier-ignore
    params: idParams('episodeId'),
    headers: creationHeaders,
    body: reportDocument,
    answers: { 201: shownReport },
    refusals: [409, 413, 422],
    answer: async (ctx, { params, document, ...input }) =>
      created(await signReport(ctx, { ...params, keys: deps.reportKeys, once: onceKey(input), document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/episodes/:episodeId/reports',
    action: 'reports.list',
    tag: 'reports',
    summary: 'The reports of an episode in all their versions, newest first',
    params: idParams('episodeId'),
    answers: { 200: listOf(reportSummary) },
    answer: async (ctx, { params }) => ({ body: await listReports(ctx, params) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/reports/:reportId',
    action: 'reports.read',
    tag: 'reports',
    summary: 'What was signed, what has become of it since, and where each number comes from',
    params: idParams('reportId'),
    query: byVersion,
    answers: { 200: shownReport },
    answer: async (ctx, { params, query }) => ({
      body: await readReport(ctx, { ...params, version: query.version ?? null }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/reports/:reportId/versions',
    action: 'reports.read',
    tag: 'reports',
    summary: 'The versions of a report, oldest first',
    params: idParams('reportId'),
    answers: { 200: listOf(reportSummary) },
    answer: async (ctx, { params }) => ({ body: await readReportVersions(ctx, params) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/reports/:reportId/versions',
    action: 'reports.sign',
    tag: 'reports',
    summary: 'Sign the next version of a report, which takes the place of the one before',
    params: idParams('reportId'),
    headers: creationHeaders,
    body: reportVersionDocument,
    answers: { 201: shownReport },
    refusals: [409, 413, 422],
    answer: async (ctx, { params, document, ...input }) =>
      created(await signReportVersion(ctx, { ...params, keys: deps.reportKeys, once: onceKey(input), document })),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/reports/:reportId/withdrawal',
    action: 'reports.withdraw',
    tag: 'reports',
    summary: 'Withdraw a report with a reason',
    description:
      'It stays readable in the clinic and leaves every team’s view at once. A copy that was pulled before still verifies: a signature says who signed, not that it still stands.', // prettier-ignore
    params: idParams('reportId'),
    headers: creationHeaders,
    body: reportWithdrawalDocument,
    answers: { 201: shownReport },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await withdrawSignedReport(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/reports/:reportId/projections/:level',
    action: 'reports.read',
    tag: 'reports',
    summary: 'One level of a report as it was signed, to hand on',
    description: 'Names nobody: whose it is, the clinic says. With Accept: application/jose the signature alone, which holds the report.', // prettier-ignore
    params: z.strictObject({ reportId: z.uuid(), level: z.enum(lists.codesOf(lists.CONSENT_LEVELS)) }),
    query: byVersion,
    answers: { 200: signedProjection },
    otherTypes: { 'application/jose': z.string() },
    answer: async (ctx, { params, query, request }) => {
      const body = await readProjection(ctx, { ...params, version: query.version ?? null })
      return prefersJose(request) ? { body: body.jws, type: 'application/jose', headers: { Vary: 'Accept' } } : { body }
    },
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/reports/:reportId/evaluation',
    action: 'reports.read',
    tag: 'reports',
    summary: 'The frozen evaluation behind a report, with all the evidence it looked at',
    params: idParams('reportId'),
    query: byVersion,
    answers: { 200: frozenEvaluation },
    answer: async (ctx, { params, query }) => ({
      body: await readReportEvaluation(ctx, { ...params, version: query.version ?? null }),
    }),
  })
}
