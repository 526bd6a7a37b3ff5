/** For the machine room: is the process there, and should requests be sent to it. Neither knows a use case. */
import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { problemSchema } from './problem-schema.ts'

/** Words for what keeps requests away; empty when nothing does. */
export type Readiness = () => Promise<readonly string[]>

const live = z.strictObject({ status: z.literal('live') }).meta({ id: 'Liveness' })
const readiness = z
  .strictObject({ status: z.enum(['accepting', 'not_accepting']), reasons: z.array(z.string()) })
  .meta({
    id: 'ProcessReadiness',
    description: 'Whether this process takes requests; says nothing about anyone tested',
  })

const malformed = {
  description: 'Malformed request',
  content: { 'application/problem+json': { schema: problemSchema } },
}

const answered = (description: string, schema: z.ZodType) => ({
  description,
  content: { 'application/json': { schema } },
})

/** Load must neither have the process killed nor silence the answer that says so. */
const whateverTheLoad = { pressureHandler: () => undefined }

export function registerHealth(app: FastifyInstance, whatIsMissing: Readiness): void {
  let closing = false
  app.addHook('preClose', async () => {
    closing = true
  })

  app.get('/livez', {
    config: whateverTheLoad,
    schema: {
      tags: ['health'],
      summary: 'The process is there',
      security: [],
      response: { 200: answered('It is there', live), 400: malformed },
    },
    handler: async () => ({ status: 'live' }),
  })

  app.get('/readyz', {
    config: whateverTheLoad,
    schema: {
      tags: ['health'],
      summary: 'The process takes requests: database there, migrations applied, not closing',
      security: [],
      response: {
        200: answered('Send requests', readiness),
        400: malformed,
        503: answered('Send none, and why', readiness),
      },
    },
    handler: async (_request, reply) => {
      // Asked before the database is: the lag may be over by the time it answers.
      const load = app.isUnderPressure() ? ['under_load'] : []
      const reasons = closing ? ['closing'] : [...load, ...(await whatIsMissing())]
      if (reasons.length === 0) return { status: 'accepting', reasons }
      return reply.code(503).header('Retry-After', '2').send({ status: 'not_accepting', reasons })
    },
  })
}
