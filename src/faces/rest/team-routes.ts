import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { listTeamChanges } from '../../application/sharing/list-team-changes.ts'
import { readSquad } from '../../application/sharing/read-squad.ts'
import { readTeamReport } from '../../application/sharing/read-team-report.ts'
import { prefersCsv, prefersJose } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { idParams } from '../shapes/common.ts'
import { teamChangesQuery } from '../shapes/queries.ts'
import * as shapes from '../shapes/report.ts'
import { squadCsv } from './squad-csv.ts'
import { teamRoute } from './team-route.ts'

const EVERY_PULL = 'Every pull, with its purpose, is an event in the audit log of each clinic concerned.'

export function teamRoutes(app: FastifyInstance, deps: FaceDeps): void {
  teamRoute(app, deps, {
    url: '/v1/team/squad',
    action: 'team.squad.read',
    summary: 'The latest report of each of the team’s references, each at the level agreed',
    description: `States criteria on a date, never a decision to play. With Accept: text/csv one line a reference. ${EVERY_PULL}`,
    answer200: shapes.squad,
    otherTypes: { 'text/csv': z.string() },
    answer: async (ctx, { request }) => {
      const form = prefersCsv(request) ? 'csv' : 'json'
      const squad = await readSquad(ctx, { form })
      const headers = { Vary: 'Accept' }
      if (form === 'json') return { body: squad, headers }
      return { body: squadCsv(squad), type: 'text/csv; charset=utf-8; header=present', headers }
    },
  })

  teamRoute(app, deps, {
    url: '/v1/team/reports',
    action: 'team.reports.list',
    summary: 'What appeared and what went since the last call',
    description: `A change may come twice and is never left out; each says the whole state of its report. What went is told with one word whatever the cause. A cursor belongs to the purpose it was asked with. ${EVERY_PULL}`,
    query: teamChangesQuery,
    answer200: shapes.teamChanges,
    answer: async (ctx, { query }) => ({
      body: await listTeamChanges(ctx, { since: query.since ?? null, limit: query.limit ?? 50 }),
    }),
  })

  teamRoute(app, deps, {
    url: '/v1/team/reports/:projectionId',
    action: 'team.reports.read',
    summary: 'One report with its signature, to be verified without this service',
    description: `With Accept: application/jose the signature alone, which holds the report; limb-ledger verify-report reads both. The clinic's keys: /.well-known/limb-ledger/clinics/{clinicId}/jwks.json. ${EVERY_PULL}`,
    params: idParams('projectionId'),
    answer200: shapes.teamReport,
    otherTypes: { 'application/jose': z.string() },
    answer: async (ctx, { params, request }) => {
      const form = prefersJose(request) ? 'jws' : 'json'
      const report = await readTeamReport(ctx, { ...params, form })
      const headers = { Vary: 'Accept' }
      return form === 'jws' ? { body: report.jws, type: 'application/jose', headers } : { body: report, headers }
    },
  })
}
