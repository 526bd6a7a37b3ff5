import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { getMe, getMeAsTeam } from '../../application/me/get-me.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { clinicMember, teamReader } from '../shapes/me.ts'

export function meRoutes(app: FastifyInstance, deps: FaceDeps): void {
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
