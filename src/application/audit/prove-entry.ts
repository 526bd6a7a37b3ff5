import { AppError } from '../../domain/errors.ts'
import { headOfSize, lastHead, leafText, type HeadRow } from '../../ledger/ledger-rows.ts'
import { proveConsistency, proveInclusion } from '../../ledger/proofs.ts'
import { ledgerSql } from '../../store/ledger-sql.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { perform, type Trace } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { clinicReader } from './clinic-reader.ts'

export interface InclusionQuestion {
  readonly sequence: number
  /** Of the tree; that of the newest head where absent. */
  readonly size: number | null
  /** The newest where absent. */
  readonly epoch: number | null
}

/** That one entry is in a tree of so many entries; with the entry itself and, where there is one, that tree's signed head. */
export async function proveEntry(ctx: Context, ask: InclusionQuestion) {
  const { epoch, head, size, entry } = await perform(ctx, 'audit.read', async (tx, trace) => {
    const place = await resolve(tx, trace, ask.epoch, ask.size)
    if (ask.sequence > place.size) throw outOfTree(`sequence is 1 to ${place.size} here`)
    trace.detail('sequence', ask.sequence)
    return { ...place, entry: await leafText(ledgerSql(tx), tx.clinicId, place.epoch, ask.sequence) }
  })
  const proof = await proveInclusion(clinicReader(ctx), ctx.actor.clinicId, epoch, ask.sequence, size)
  return { ...proof, entry, head: head?.jws ?? null }
}

/** That the tree of the first `first` entries is the beginning of that of `second`. */
export async function proveGrowth(ctx: Context, ask: { first: number; second: number | null; epoch: number | null }) {
  const { epoch, head, firstHead, size } = await perform(ctx, 'audit.read', async (tx, trace) => {
    const place = await resolve(tx, trace, ask.epoch, ask.second)
    if (ask.first > place.size) throw outOfTree(`first is 1 to ${place.size} here`)
    trace.detail('firstSize', ask.first)
    return { ...place, firstHead: await headOfSize(ledgerSql(tx), tx.clinicId, place.epoch, ask.first) }
  })
  const proof = await proveConsistency(clinicReader(ctx), ctx.actor.clinicId, epoch, ask.first, size)
  return { ...proof, firstHead: firstHead?.jws ?? null, secondHead: head?.jws ?? null }
}

/** Only what was sealed is proved: no tree is larger than the newest head of its epoch. */
async function resolve(
  tx: ClinicTx,
  trace: Trace,
  wantedEpoch: number | null,
  wantedSize: number | null,
): Promise<{ epoch: number; size: number; head: HeadRow | null }> {
  const sql = ledgerSql(tx)
  const newest = orNotFound(await lastHead(sql, tx.clinicId, wantedEpoch))
  const size = wantedSize ?? newest.size
  if (size > newest.size || size < 1) throw outOfTree(`epoch ${newest.epoch} has ${newest.size} sealed entries`)
  trace.detail('epoch', newest.epoch)
  trace.detail('size', size)
  return { epoch: newest.epoch, size, head: await headOfSize(sql, tx.clinicId, newest.epoch, size) }
}

const outOfTree = (why: string): AppError =>
  new AppError('invalid_query', { detail: `No such place in the log: ${why}.` })
