/**
 * Database against witness. Run before every seal and once per clinic at start: whatever the two disagree about is
 * either the trace of a restart in the middle of sealing, which is put right here, or an alarm.
 *
 * A head reaches the witness before the database. So the witness may be ahead by heads whose leaves are all there (the
 * database stores those heads now), but it is never behind, and the database never lacks a leaf that was witnessed.
 */
import { LedgerAlarm } from './alarm.ts'
import type { AlarmCode } from './alarm.ts'
import type { HeadRow, SealedThrough, Sql } from './ledger-rows.ts'
import { inClinic, insertHead, lastHead, lastSequence, leafHashes, sealedNothing } from './ledger-rows.ts'
import type { Frontier } from './merkle.ts'
import { appendLeaves, EMPTY_FRONTIER, EMPTY_ROOT, frontierRoot } from './merkle.ts'
import type { PublicJwks } from './tree-head.ts'
import { verifyTreeHead } from './tree-head.ts'
import type { Witness, WitnessRecord } from './witness.ts'

/** The newest head, in both places; null for a clinic that never had one. Throws LedgerAlarm. */
export async function reconcile(
  client: Sql,
  clinicId: string,
  witness: Witness,
  trustedKeys: PublicJwks,
): Promise<HeadRow | null> {
  const witnessed = await witness.last(clinicId)
  let stored = await inClinic(client, clinicId, () => lastHead(client, clinicId))
  if (witnessed !== null) requireSigned(clinicId, witnessed.jws, witnessed.head.epoch, trustedKeys)
  if (stored !== null) {
    const { head } = requireSigned(clinicId, stored.jws, stored.epoch, trustedKeys)
    if (isAfter(stored, witnessed?.head ?? null)) {
      const sequence = witnessed?.head.epoch === stored.epoch ? witnessed.head.size + 1 : 1
      alarm('witness_behind_database', clinicId, stored.epoch, sequence, `the database holds a head of ${stored.size}`)
    }
    // What stands in the row beside the signed words has to be those words: the next head is computed from it, and a head
    // over a forged tree would be one that the witness can never show to be right.
    if (head.epoch !== stored.epoch || head.size !== stored.size || head.rootHash !== stored.rootHash) {
      alarm('head_differs_from_witness', clinicId, stored.epoch, 1, 'the stored head says otherwise than was signed')
    }
    if (!addsUpTo(stored.frontier, head.rootHash)) {
      alarm('frontier_differs_from_head', clinicId, stored.epoch, 1, 'the stored subtrees do not add up to the root')
    }
  }
  if (witnessed === null) return null

  if (isAfter(witnessed.head, stored)) {
    // Once more, because whoever wrote the last line may have died before it was on the disk.
    await witness.append(witnessed)
    const nothing = await inClinic(client, clinicId, () => sealedNothing(client))
    for await (const record of witness.all(clinicId)) {
      if (isAfter(record.head, stored)) stored = await adopt(client, clinicId, record, stored, nothing, trustedKeys)
    }
  }
  if (stored === null || stored.jws !== witnessed.jws) {
    const sequence = 1
    alarm('head_differs_from_witness', clinicId, witnessed.head.epoch, sequence, 'same size, another head')
  }
  const last = await inClinic(client, clinicId, () => lastSequence(client, clinicId, stored.epoch))
  if (last < stored.size) {
    alarm('database_behind_witness', clinicId, stored.epoch, last + 1, `${stored.size} were witnessed`)
  }
  return stored
}

/** Stores a head that the witness has and the database lacks, after showing that its leaves are here unchanged. */
async function adopt(
  client: Sql,
  clinicId: string,
  record: WitnessRecord,
  before: HeadRow | null,
  nothing: SealedThrough,
  trustedKeys: PublicJwks,
): Promise<HeadRow> {
  const { head, jws } = record
  const { keyId } = requireSigned(clinicId, jws, head.epoch, trustedKeys)
  return inClinic(client, clinicId, async () => {
    if (head.size === 0) await requireKept(client, clinicId, record)
    const from = head.size - record.leafHashes.length + 1
    const here = await leafHashes(client, clinicId, head.epoch, from, head.size)
    record.leafHashes.forEach((expected, index) => {
      const sequence = from + index
      const found = here[index]
      if (found === undefined) {
        alarm('database_behind_witness', clinicId, head.epoch, sequence, `${head.size} were witnessed`)
      }
      if (!found.equals(expected)) {
        alarm('leaves_differ_from_witness', clinicId, head.epoch, sequence, 'not the leaf that was witnessed')
      }
    })
    const start = head.size === 0 ? EMPTY_FRONTIER : (before?.frontier ?? EMPTY_FRONTIER)
    const frontier = appendLeaves(start, record.leafHashes)
    if (frontier.size !== head.size || frontierRoot(frontier).toString('hex') !== head.rootHash) {
      alarm('head_differs_from_witness', clinicId, head.epoch, from, 'the leaves do not add up to the witnessed root')
    }
    const sealedThrough = before?.sealedThrough ?? nothing
    const row: HeadRow = { epoch: head.epoch, size: head.size, rootHash: head.rootHash, jws, frontier, sealedThrough }
    await insertHead(client, clinicId, keyId, head.timestamp, row)
    return row
  })
}

/** An opening head tells what the database held when it was written; a database that holds less was rolled back. */
async function requireKept(client: Sql, clinicId: string, { head }: WitnessRecord): Promise<void> {
  if (head.rootHash !== EMPTY_ROOT.toString('hex')) {
    alarm('head_differs_from_witness', clinicId, head.epoch, 1, 'an opening head has the root of the empty tree')
  }
  const kept = head.previousEpoch?.kept
  if (kept === undefined || kept.size === 0) return
  const here = await lastSequence(client, clinicId, kept.epoch)
  if (here < kept.size) alarm('database_behind_witness', clinicId, kept.epoch, here + 1, `${kept.size} were kept`)
}

export function requireSigned(clinicId: string, jws: string, epoch: number, trustedKeys: PublicJwks) {
  const signed = verifyTreeHead(jws, trustedKeys)
  if (signed === null || signed.head.clinicId !== clinicId) {
    alarm('head_signature_unknown', clinicId, epoch, 1, 'no trusted key signed this head for this clinic')
  }
  return signed
}

/** False as well for subtrees that fit no tree of that size. */
function addsUpTo(frontier: Frontier, rootHash: string): boolean {
  try {
    return frontierRoot(frontier).toString('hex') === rootHash
  } catch (error) {
    if (error instanceof RangeError) return false
    throw error
  }
}

type Place = { readonly epoch: number; readonly size: number }

function isAfter(a: Place, b: Place | null): boolean {
  return b === null || a.epoch > b.epoch || (a.epoch === b.epoch && a.size > b.size)
}

export function alarm(code: AlarmCode, clinicId: string, epoch: number, sequence: number, detail: string): never {
  throw new LedgerAlarm(code, { clinicId, epoch, sequence }, detail)
}
