/** The groups of routes, in the order in which their data come to be. */
import type { FastifyInstance } from 'fastify'
import { auditRoutes } from './audit-routes.ts'
import { calculationRoutes } from './calculations-routes.ts'
import { codeListRoutes } from './code-lists-routes.ts'
import { comparabilityRoutes } from './comparability-routes.ts'
import { consentRoutes } from './consents-routes.ts'
import { criteriaSetRoutes } from './criteria-sets-routes.ts'
import { dynamometerRoutes } from './dynamometers-routes.ts'
import { episodeRoutes } from './episodes-routes.ts'
import { erasureRoutes } from './erasure-routes.ts'
import { flagRoutes } from './flags-routes.ts'
import { meRoutes } from './me-routes.ts'
import { measurementErrorRoutes } from './measurement-errors-routes.ts'
import { observationRoutes } from './observations-routes.ts'
import { readinessRoutes } from './readiness-routes.ts'
import { reanalysisRoutes } from './reanalysis-routes.ts'
import { recordingRoutes } from './recordings-routes.ts'
import { reportKeysRoutes } from './report-keys-routes.ts'
import { reportRoutes } from './reports-routes.ts'
import { resultRoutes } from './results-routes.ts'
import type { FaceDeps } from '../context.ts'
import { sessionRoutes } from './sessions-routes.ts'
import { setupRoutes } from './setups-routes.ts'
import { subjectRoutes } from './subjects-routes.ts'
import { teamRoutes } from './team-routes.ts'
import { trendRoutes } from './trends-routes.ts'

const GROUPS = [
  meRoutes,
  codeListRoutes,
  criteriaSetRoutes,
  subjectRoutes,
  episodeRoutes,
  observationRoutes,
  dynamometerRoutes,
  sessionRoutes,
  setupRoutes,
  calculationRoutes,
  flagRoutes,
  recordingRoutes,
  resultRoutes,
  comparabilityRoutes,
  measurementErrorRoutes,
  trendRoutes,
  reanalysisRoutes,
  readinessRoutes,
  reportRoutes,
  reportKeysRoutes,
  consentRoutes,
  teamRoutes,
  auditRoutes,
  erasureRoutes,
]

export function registerRest(app: FastifyInstance, deps: FaceDeps): void {
  for (const group of GROUPS) group(app, deps)
}
