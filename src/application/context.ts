import type { LedgerAccess } from '../ledger/access.ts'
import type { KeyRing } from '../ledger/subject-keys.ts'
import type { ClinicActor } from '../tenancy/actor.ts'
import type { Database } from '../tenancy/database.ts'
import type { PreparationPool } from './prepare-session/pool.ts'

/** What every use case gets: ctx first, then one input. */
export interface Context {
  readonly db: Database
  readonly actor: ClinicActor
  readonly requestId: string
  /** The request's instant: every row it writes and every question it asks carries this time. */
  readonly now: Date
  /** A code word. */
  readonly purpose: string | null
  readonly pool: PreparationPool
  /** To seal and verify; null where this process was given no connection for it. */
  readonly ledger: LedgerAccess | null
  /** Opens the keys under which texts about people stand in the ledger. */
  readonly subjectKeys: KeyRing
}
