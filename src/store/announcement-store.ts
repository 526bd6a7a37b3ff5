import { ANNOUNCEMENT_CHANNEL, type Announcement } from '../tenancy/announcements.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'

/**
 * Heard by every process when the transaction commits, and by nobody when it does not. Ids alone: whoever may listen on the
 * database learns from them that something was stored, and nothing about anyone. The database puts transactions that
 * announce in a row for the moment of their commit, so it is said once for a whole document.
 */
export async function announce(tx: ClinicTx, announcement: Omit<Announcement, 'clinicId'>): Promise<void> {
  const { kind, id, subjectId } = announcement
  const payload: Announcement = { clinicId: tx.clinicId, kind, id, subjectId }
  await tx.$queryRaw`select pg_notify(${ANNOUNCEMENT_CHANNEL}, ${JSON.stringify(payload)})::text as announced`
}
