/** The groups of routes, in the order in which their data come to be. */
import type { FastifyInstance } from 'fastify'
import { codeListRoutes } from './code-lists-routes.ts'
import { criteriaSetRoutes } from './criteria-sets-routes.ts'
import { dynamometerRoutes } from './dynamometers-routes.ts'
import { episodeRoutes } from './episodes-routes.ts'
import { meRoutes } from './me-routes.ts'
import { readinessRoutes } from './readiness-routes.ts'
import type { RestDeps } from './route.ts'
import { sessionRoutes } from './sessions-routes.ts'
import { subjectRoutes } from './subjects-routes.ts'
import { trendRoutes } from './trends-routes.ts'

const GROUPS = [
  meRoutes,
  codeListRoutes,
  criteriaSetRoutes,
  subjectRoutes,
  episodeRoutes,
  dynamometerRoutes,
  sessionRoutes,
  trendRoutes,
  readinessRoutes,
]

export function registerRest(app: FastifyInstance, deps: RestDeps): void {
  for (const group of GROUPS) group(app, deps)
}
