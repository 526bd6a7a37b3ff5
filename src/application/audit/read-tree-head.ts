import { lastHead } from '../../ledger/ledger-rows.ts'
import { unsafeReadTreeHead } from '../../ledger/tree-head.ts'
import { ledgerSql } from '../../store/ledger-sql.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'

/** The newest signed and witnessed head. Its signature is the client's to check, with keys it got another way. */
export async function readTreeHead(ctx: Context) {
  return perform(ctx, 'audit.read', async (tx) => {
    const { epoch, size, rootHash, jws } = orNotFound(await lastHead(ledgerSql(tx), tx.clinicId))
    return { epoch, size, rootHash, timestamp: unsafeReadTreeHead(jws)?.timestamp ?? null, jws }
  })
}
