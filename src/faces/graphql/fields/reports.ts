import { z } from 'zod'
import { inviteTeam, listTeams } from '../../../application/consents/invite-team.ts'
import { listConsents } from '../../../application/consents/list-consents.ts'
import { recordConsent } from '../../../application/consents/record-consent.ts'
import { revokeGivenConsent } from '../../../application/consents/revoke-consent.ts'
import { readCriteriaSets } from '../../../application/criteria-sets/read-criteria-sets.ts'
import { readReport } from '../../../application/reports/read-report.ts'
import { signReport, signReportVersion } from '../../../application/reports/sign-report.ts'
import { withdrawSignedReport } from '../../../application/reports/withdraw-report.ts'
import { consentDocument, revocationDocument } from '../../../domain/consent-document.ts'
import { reportDocument, reportVersionDocument, reportWithdrawalDocument } from '../../../domain/report-document.ts'
import { create, read } from '../field.ts'
import { listOf, type Types } from '../types.ts'

const reportId = z.strictObject({ reportId: z.uuid() })
const subjectId = z.strictObject({ subjectId: z.uuid() })

export function reportFields(types: Types) {
  const { shapes } = types
  return {
    query: {
      criteriaSets: read(shapes, {
        description: 'Published criteria sets with their citation, then the clinic’s own',
        action: 'criteria-sets.read',
        type: listOf(types.criteriaSet),
        cost: 5,
        answer: async (gql) => (await readCriteriaSets(gql.clinic())).items,
      }),
      report: read(shapes, {
        description: 'What was signed, what has become of it since, and where each number comes from',
        action: 'reports.read',
        type: types.report,
        ids: z.strictObject({ id: z.uuid() }),
        query: z.strictObject({ version: z.int().min(1).max(1_000_000).optional().describe('The newest if absent') }),
        cost: 10,
        answer: (gql, { id, version }) => readReport(gql.clinic(), { reportId: id, version: version ?? null }),
      }),
      consents: read(shapes, {
        description: 'What a subject agreed to show to teams, newest first',
        action: 'consents.list',
        type: listOf(types.consent),
        ids: subjectId,
        cost: 3,
        answer: async (gql, params) => (await listConsents(gql.clinic(), params)).items,
      }),
      invitedTeams: read(shapes, {
        description: 'The teams that this clinic has invited',
        action: 'teams.list',
        type: listOf(types.invitedTeam),
        cost: 3,
        answer: async (gql) => (await listTeams(gql.clinic())).items,
      }),
    },
    mutation: {
      signReport: create(shapes, {
        name: 'signReport',
        description: 'Freeze an evaluation with the decision of a licensed clinician, and sign both',
        action: 'reports.sign',
        type: types.report,
        ids: z.strictObject({ episodeId: z.uuid() }),
        document: { shape: reportDocument, input: 'ReportInput' },
        run: (ctx, { params, ...input }, { deps }) => signReport(ctx, { ...params, ...input, keys: deps.reportKeys }),
      }),
      signReportVersion: create(shapes, {
        name: 'signReportVersion',
        description: 'Sign the next version of a report, which takes the place of the one before',
        action: 'reports.sign',
        type: types.report,
        ids: reportId,
        document: { shape: reportVersionDocument, input: 'ReportVersionInput' },
        run: (ctx, { params, ...input }, { deps }) =>
          signReportVersion(ctx, { ...params, ...input, keys: deps.reportKeys }),
      }),
      withdrawReport: create(shapes, {
        name: 'withdrawReport',
        description: 'Withdraw a report with a reason: it stays readable in the clinic and leaves every team’s view',
        action: 'reports.withdraw',
        type: types.report,
        ids: reportId,
        document: { shape: reportWithdrawalDocument, input: 'ReportWithdrawalInput' },
        run: (ctx, { params, ...input }) => withdrawSignedReport(ctx, { ...params, ...input }),
      }),
      inviteTeam: create(shapes, {
        name: 'inviteTeam',
        description: 'Invite a team, so that consents may name it; an invitation shows a team nothing',
        action: 'teams.invite',
        type: types.invitedTeam,
        ids: z.strictObject({ teamId: z.uuid() }),
        run: (ctx, { params, ...input }) => inviteTeam(ctx, { ...params, ...input }),
      }),
      recordConsent: create(shapes, {
        name: 'recordConsent',
        description: 'Record what a subject agreed to show a team',
        action: 'consents.create',
        type: types.consent,
        ids: subjectId,
        document: { shape: consentDocument, input: 'ConsentInput' },
        run: (ctx, { params, ...input }, { deps }) =>
          recordConsent(ctx, { ...params, ...input, keys: deps.reportKeys }),
      }),
      revokeConsent: create(shapes, {
        name: 'revokeConsent',
        description: 'Revoke a consent with a reason; it holds for every request of the team that begins afterwards',
        action: 'consents.revoke',
        type: types.consent,
        ids: z.strictObject({ consentId: z.uuid() }),
        document: { shape: revocationDocument, input: 'RevocationInput' },
        run: (ctx, { params, ...input }) => revokeGivenConsent(ctx, { ...params, ...input }),
      }),
    },
  }
}
