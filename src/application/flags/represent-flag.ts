import type { FlagRow } from '../../store/flag-store.ts'

export function representFlag(row: FlagRow) {
  return {
    id: row.id,
    code: row.code,
    level: row.level,
    status: row.status,
    pointer: row.pointer,
    sessionId: row.sessionId,
    ...(row.resultId === null ? {} : { resultId: row.resultId }),
    message: row.message,
    effect: row.effect,
    evidence: row.evidence as Record<string, unknown>,
    ...(row.resolvedAt === null
      ? {}
      : { resolution: { by: row.resolvedBy, at: row.resolvedAt.toISOString(), reason: row.resolvedReason } }),
  }
}

export type FlagRepresentation = ReturnType<typeof representFlag>
