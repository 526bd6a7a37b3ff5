import type { SubjectRow } from '../../store/subject-store.ts'

/** The subject as written, with what the service adds. */
export function representSubject(row: SubjectRow) {
  return { id: row.id, version: row.version, ...(row.document as object), recordedAt: row.recordedAt.toISOString() }
}

export type SubjectRepresentation = ReturnType<typeof representSubject>
