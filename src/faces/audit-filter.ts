import type { z } from 'zod'
import type { auditQuery } from './shapes/queries.ts'

/** A query of the audit log in the words of the use cases. */
export function auditFilter(query: z.output<typeof auditQuery>) {
  return {
    subjectId: query.subjectId?.toLowerCase() ?? null,
    actorPrincipalId: query.actorId ?? null,
    action: query.action ?? null,
    outcome: query.outcome ?? null,
    requestId: query.requestId ?? null,
    from: query.from === undefined ? null : new Date(query.from),
    to: query.to === undefined ? null : new Date(query.to),
  }
}
