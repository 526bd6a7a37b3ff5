import type { JsonValue } from '../../ledger/canonical-event.ts'
import type { AuditEventRow } from '../../store/audit-store.ts'

export function representEvent(row: AuditEventRow, details: JsonValue) {
  return {
    id: row.id,
    at: row.at.toISOString(),
    sealed: row.sequence === null ? null : { epoch: row.epoch ?? 0, sequence: Number(row.sequence) },
    actor: {
      principalId: row.actorPrincipalId,
      displayName: row.actorName,
      role: row.actorRole,
      client: row.client,
    },
    purpose: row.purpose,
    action: row.action,
    outcome: row.outcome,
    requestId: row.requestId,
    subjectIds: row.subjectIds,
    resourceIds: row.resourceIds,
    details,
  }
}
