import type { ConsentRow } from '../../store/consent-store.ts'

export function representConsent(row: ConsentRow, now: Date) {
  return {
    id: row.id,
    subjectId: row.subjectId,
    team: { id: row.teamId },
    level: row.level,
    teamReference: row.teamReference,
    displayName: row.displayName,
    purposes: row.purposes,
    from: row.fromOn,
    until: row.untilOn,
    ...(row.episodeId === null ? {} : { episodeId: row.episodeId }),
    ...(row.guardian === null ? {} : { guardian: row.guardian }),
    ...(row.documentReference === null ? {} : { documentReference: row.documentReference }),
    recordedBy: row.recordedBy,
    recordedAt: row.recordedAt.toISOString(),
    state: stateOf(row, now),
    revocation: row.revokedAt === null ? null : { at: row.revokedAt.toISOString(), reason: row.revokedReason ?? '' },
  }
}

function stateOf(row: ConsentRow, now: Date): 'in_force' | 'not_begun' | 'ended' | 'revoked' {
  if (row.revokedAt !== null) return 'revoked'
  if (row.validUntil <= now) return 'ended'
  return row.validFrom > now ? 'not_begun' : 'in_force'
}
