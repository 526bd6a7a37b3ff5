/** What the service and its jobs hold to seal and to verify; made once at start. */
import type { Pool } from 'pg'
import type { SealerDeps } from './sealer.ts'

export type LedgerAccess = {
  /** Connects as limb_ledger_sealer, which sees events, disclosures, leaves and heads and nothing else. */
  readonly sealerPool: Pool
  readonly deps: SealerDeps
}
