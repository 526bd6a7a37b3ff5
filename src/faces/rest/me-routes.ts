import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { getMe, getMeAsTeam } from '../../application/me/get-me.ts'
import { CLINIC_ROLES } from '../../tenancy/actor.ts'
import { route, type RestDeps } from './route.ts'
import { id } from './schemas/common.ts'

const who = { principalId: id, displayName: z.string(), client: z.string().nullable() }

const clinicMember = z
  .strictObject({
    ...who,
    clinic: z.strictObject({ id, name: z.string(), timeZone: z.string().describe('IANA time zone') }),
    role: z.enum(CLINIC_ROLES),
    licensed: z.boolean().describe('A licence is on record: may sign a decision'),
    mayDo: z.array(z.string()).describe('The actions this role may do'),
  })
  .meta({ id: 'ClinicMember' })

const teamReader = z
  .strictObject({ ...who, team: z.strictObject({ id, name: z.string() }), role: z.literal('reader') })
  .meta({ id: 'TeamReader' })

export function meRoutes(app: FastifyInstance, deps: RestDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/me',
    action: 'me.read',
    tag: 'me',
    summary: 'Who this token says you are, and what you may do',
    answers: { 200: z.union([clinicMember, teamReader]) },
    answer: async (ctx) => ({ body: getMe(ctx) }),
    answerTeam: (actor) => ({ body: getMeAsTeam(actor) }),
  })
}
