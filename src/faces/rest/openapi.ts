/** OpenAPI 3.1 out of the zod shapes of the routes, and a page to read it on that asks nothing of the outside. */
import swagger from '@fastify/swagger'
import swaggerUi from '@fastify/swagger-ui'
import type { FastifyInstance } from 'fastify'
import { createJsonSchemaTransform, createJsonSchemaTransformObject } from 'fastify-type-provider-zod'
import { tidyComponents } from './openapi-components.ts'

const DESCRIPTION = `Isokinetic strength tests: setups, measures, comparability, change, symmetry, readiness criteria.

**The service informs; it never decides.** It states criteria met, not met or not assessable on a date. The decision is a
named licensed clinician's. Local protocol and licensed practice come first: screening, contraindications, stop rules
and the supervision of a test are theirs, and nothing here replaces them.

Every measured number is \`{"value", "unit"}\` with a mandatory UCUM unit. A measure that cannot be had is \`null\` with a
reason, never 0. What each reason means in words: \`GET /v1/code-lists/reasons\`; flags, cautions and setup warnings have
lists of their own. Unknown fields are refused. Refusals are RFC 9457 problem documents with a stable \`code\`
(openapi/errors.md). A POST that creates needs an \`Idempotency-Key\`; an edit needs \`If-Match\`.`

/** Before the routes: it collects each as it is registered. */
export async function describeInterface(app: FastifyInstance): Promise<void> {
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.1',
      info: {
        title: 'Limb Ledger',
        version: '1',
        description: DESCRIPTION,
        license: { name: 'Apache-2.0', identifier: 'Apache-2.0' } as { name: string },
      },
      servers: [{ url: '/', description: 'This service' }],
      tags: TAGS.map(([name, description]) => ({ name, description })),
      components: {
        securitySchemes: {
          accessToken: {
            type: 'http',
            scheme: 'bearer',
            bearerFormat: 'JWT',
            description: 'Claims iss, sub, aud, exp and exactly one of clinic or team; typ at+jwt.',
          },
        },
      },
      security: [{ accessToken: [] }],
    },
    transform: createJsonSchemaTransform({}),
    transformObject: (input) => tidyComponents(createJsonSchemaTransformObject({})(input)),
  })
}

const TAGS: readonly (readonly [string, string])[] = [
  ['me', 'Who the token says you are, and what you may do'],
  ['code lists', 'The words that documents may use'],
  ['criteria sets', 'Published sets with their citation, and the clinic’s own'],
  ['subjects', 'The people who are tested'],
  ['episodes', 'A course of rehabilitation of one joint'],
  ['dynamometers', 'The machine, as the clinic describes it'],
  ['setups', 'Pinned references, the next setup, plans of a test'],
  ['comparability rules', 'What a difference in a setup does, and the clinic’s own limits'],
  ['sessions', 'One visit, pushed as one document'],
  ['calculations', 'Answers from what is sent; nothing is stored'],
  ['flags', 'Hazards found: the work list of clinicians'],
  ['results', 'What was measured, set by set and direction by direction'],
  ['measurement errors', 'The clinic’s own, from pairs of tests'],
  ['trends', 'Strength over time, split where tests may not be compared'],
  ['readiness', 'Criteria met, not met or not assessable on a date'],
  ['reports', 'A clinician’s decision beside an evaluation, frozen and signed'],
  ['consents', 'What a subject agreed to show which team'],
  ['teams', 'What a team sees, under consent'],
  ['audit', 'Who saw and changed what'],
  ['health', 'For the machine room'],
]

/** No upgrade-insecure-requests: the page is read over plain HTTP on a local machine. Styles are set by the script. */
const PAGE_POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; " +
  "font-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

export async function serveReferencePage(app: FastifyInstance): Promise<void> {
  await app.register(swaggerUi, {
    routePrefix: '/docs',
    staticCSP: PAGE_POLICY,
    theme: { title: 'Limb Ledger: reference' },
    uiConfig: { validatorUrl: null, docExpansion: 'none', tryItOutEnabled: false, persistAuthorization: false },
  })
}
