import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { inviteTeam, listTeams } from '../../application/consents/invite-team.ts'
import { listConsents } from '../../application/consents/list-consents.ts'
import { recordConsent } from '../../application/consents/record-consent.ts'
import { revokeGivenConsent } from '../../application/consents/revoke-consent.ts'
import { consentDocument, revocationDocument } from '../../domain/consent-document.ts'
import { created, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { consent, team } from '../shapes/consent.ts'
import { creationHeaders, idParams, listOf } from '../shapes/common.ts'

export function consentRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/teams/:teamId/invitations',
    action: 'teams.invite',
    tag: 'consents',
    summary: 'Invite a team, so that consents may name it',
    description: 'The operator makes teams and gives out their ids. An invitation shows a team nothing.',
    params: idParams('teamId'),
    headers: creationHeaders,
    body: z.strictObject({}),
    answers: { 200: team, 201: team },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await inviteTeam(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/teams',
    action: 'teams.list',
    tag: 'consents',
    summary: 'The teams that this clinic has invited',
    answers: { 200: listOf(team) },
    answer: async (ctx) => ({ body: await listTeams(ctx) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/consents',
    action: 'consents.create',
    tag: 'consents',
    summary: 'Record what a subject agreed to show a team',
    description:
      'Level, period, purposes, and the name and reference by which the team knows the person. One consent a subject and team: to change it, revoke it and record the new one. For a minor, or where no birth date is on record, a guardian is named.', // prettier-ignore
    params: idParams('subjectId'),
    headers: creationHeaders,
    body: consentDocument,
    answers: { 201: consent },
    refusals: [409, 413, 422],
    answer: async (ctx, { params, document, ...input }) =>
      created(await recordConsent(ctx, { ...params, keys: deps.reportKeys, once: onceKey(input), document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId/consents',
    action: 'consents.list',
    tag: 'consents',
    summary: 'The consents of a subject, newest first',
    params: idParams('subjectId'),
    answers: { 200: listOf(consent) },
    answer: async (ctx, { params }) => ({ body: await listConsents(ctx, params) }),
  })

  route(app, deps, {
    method: 'POST',
    url: '/v1/consents/:consentId/revocation',
    action: 'consents.revoke',
    tag: 'consents',
    summary: 'Revoke a consent with a reason',
    description:
      'Holds for every request of the team that begins after this answer. What it pulled before cannot be called back.', // prettier-ignore
    params: idParams('consentId'),
    headers: creationHeaders,
    body: revocationDocument,
    answers: { 201: consent },
    refusals: [409, 413, 422],
    answer: async (ctx, input) =>
      created(await revokeGivenConsent(ctx, { ...input.params, once: onceKey(input), document: input.document })),
  })
}
