import type { ReferenceSetupRow } from '../../store/setup-store.ts'

export function representReferenceSetup(row: ReferenceSetupRow) {
  const { setup } = row
  return {
    id: row.id,
    subjectId: row.subjectId,
    joint: row.joint,
    side: row.side,
    dynamometerId: row.dynamometerId,
    version: row.version,
    inForce: row.supersededAt === null ? ('yes' as const) : ('no' as const),
    session: {
      id: setup.sessionId,
      version: setup.sessionVersion,
      startedAt: setup.startedAt,
      descriptionVersion: setup.descriptionVersion,
      state: stateOf(row),
    },
    setup: setup.document as Record<string, unknown>,
    reason: row.reason,
    pinnedBy: row.recordedBy,
    pinnedAt: row.recordedAt.toISOString(),
    supersededAt: row.supersededAt?.toISOString() ?? null,
  }
}

export type ReferenceSetupRepresentation = ReturnType<typeof representReferenceSetup>

/** A pinned setup stays as it was pinned; that its session was corrected since is said, not acted upon. */
export function stateOf({
  setup,
}: Pick<ReferenceSetupRow, 'setup'>): 'as_pinned' | 'amended_since' | 'withdrawn_since' {
  if (setup.sessionStatus === 'entered_in_error') return 'withdrawn_since'
  return setup.newestSessionVersion === setup.sessionVersion ? 'as_pinned' : 'amended_since'
}
