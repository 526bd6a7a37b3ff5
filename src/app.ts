/** The whole service, read from top to bottom. The order is on purpose. */
import type { FastifyInstance } from 'fastify'
import { registerGraphql, type GraphqlOptions } from './faces/graphql/index.ts'
import { registerRest } from './faces/rest/index.ts'
import { describeInterface, serveReferencePage } from './faces/rest/openapi.ts'
import type { FaceDeps } from './faces/context.ts'
import { registerAuthentication } from './server/authenticate.ts'
import { registerHealth } from './server/health.ts'
import { makeHttp, type HttpOptions } from './server/http.ts'
import { registerSigningKeys } from './server/signing-keys.ts'
import { whatIsMissing } from './store/what-is-missing.ts'

export interface AppDeps extends FaceDeps {
  readonly http: HttpOptions
  readonly graphql: GraphqlOptions
}

/** Made of what it is given; who gave it closes it, after the app. */
export async function buildApp(deps: AppDeps): Promise<FastifyInstance> {
  // Limits, problem documents and the log come first: nothing may answer without them.
  const app = await makeHttp(deps.http)

  // Gives every request its empty actor; each route authenticates before its body is read.
  registerAuthentication(app)

  // Watches routes being registered, so it stands before the first of them.
  await describeInterface(app)
  await serveReferencePage(app)

  // Open to everyone: says whether the process lives and takes requests, and nothing else.
  registerHealth(app, () => whatIsMissing(deps.db))

  // Open as well: what an auditor needs to check a signature.
  registerSigningKeys(app, deps.ledger?.deps.trustedKeys ?? { keys: [] })

  // Faces. Each route names its action; the policy denies what is not named.
  registerRest(app, deps)
  await registerGraphql(app, deps, deps.graphql)

  return app
}
