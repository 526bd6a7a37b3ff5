/** The public keys of the tree heads, open to everyone: whoever verifies keeps them from a moment they trust. */
import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { problemSchema } from './problem-schema.ts'

const keySet = z
  .strictObject({
    keys: z.array(
      z.strictObject({
        kty: z.literal('OKP'),
        crv: z.literal('Ed25519'),
        x: z.string(),
        kid: z.string().describe('RFC 7638 thumbprint'),
        alg: z.literal('Ed25519'),
        use: z.literal('sig'),
      }),
    ),
  })
  .meta({ id: 'SigningKeys', description: 'JWK Set (RFC 7517): the key that signs now, and those that signed before' })

export function registerSigningKeys(app: FastifyInstance, keys: z.infer<typeof keySet>): void {
  app.get('/.well-known/limb-ledger/jwks.json', {
    schema: {
      tags: ['audit'],
      summary: 'Public keys of the signed tree heads',
      security: [],
      response: {
        200: { description: 'The answer', content: { 'application/jwk-set+json': { schema: keySet } } },
        400: { description: 'Malformed request', content: { 'application/problem+json': { schema: problemSchema } } },
      },
    },
    handler: async (_request, reply) => reply.type('application/jwk-set+json').send(keys),
  })
}
