/** The public keys of each clinic's reports, open to everyone. Any id has keys, so that nobody learns which clinics there are. */
import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import type { FaceDeps } from '../context.ts'
import { parseParams } from '../parse.ts'
import { goodAnswers, problemAnswers } from './route.ts'
import { idParams } from '../shapes/common.ts'

const keySet = z
  .strictObject({
    keys: z.array(
      z.strictObject({
        kty: z.literal('OKP'),
        crv: z.literal('Ed25519'),
        x: z.string(),
        kid: z.string().describe('RFC 7638 thumbprint'),
        alg: z.literal('EdDSA'),
        use: z.literal('sig'),
      }),
    ),
  })
  .meta({ id: 'ReportKeys', description: 'JWK Set (RFC 7517): the key that signs now, and those that signed before' })

export function reportKeysRoutes(app: FastifyInstance, deps: FaceDeps): void {
  const params = idParams('clinicId')
  const { 200: answer } = goodAnswers({ 200: keySet })
  const { content } = answer as { content: Record<string, unknown> }
  app.get('/.well-known/limb-ledger/clinics/:clinicId/jwks.json', {
    schema: {
      tags: ['reports'],
      summary: 'Public keys of the reports of a clinic',
      security: [],
      params,
      response: {
        200: { description: 'The answer', content: { 'application/jwk-set+json': content['application/json'] } },
        ...problemAnswers([400, 404]),
      },
    },
    handler: async (request, reply) => {
      const { clinicId } = parseParams(params, request.params) as z.output<typeof params>
      return reply.type('application/jwk-set+json').send(await deps.reportKeys.publicKeys(clinicId.toLowerCase()))
    },
  })
}
