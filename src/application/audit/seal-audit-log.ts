import { AppError } from '../../domain/errors.ts'
import { sealNow } from '../../ledger/sealer.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { asLedgerError, requireLedger } from './clinic-reader.ts'

/** How long a seal on demand waits for transactions that still run, and for a sealer that is at it already. */
const TRANSACTIONS_WAIT_MS = 5_000
const LOCK_WAIT_MS = 15_000

/** Everything that was committed before this call goes under a witnessed head, the event of this call included. */
export async function sealAuditLog(ctx: Context) {
  const { sealerPool, deps } = requireLedger(ctx)
  await perform(ctx, 'audit.seal', () => Promise.resolve())
  try {
    const sealed = await sealNow(
      sealerPool,
      ctx.actor.clinicId,
      { ...deps, waitForLockMs: LOCK_WAIT_MS },
      TRANSACTIONS_WAIT_MS,
    )
    if (sealed === null) throw new AppError('busy', { retryAfterSeconds: 1, detail: 'Another sealer is at it.' })
    const { epoch, size, rootHash, jws, added, complete } = sealed
    return { epoch, size, rootHash, added, complete, jws }
  } catch (error) {
    throw asLedgerError(error)
  }
}
