/**
 * Sealing: events get their numbers, their leaves, and a signed head.
 *
 *   commit leaves → sign the head → sync it to the witness → store the head
 *
 * Requests append events without a lock and without a number, so they never wait for each other. One sealer per clinic
 * (advisory lock, any instance) numbers what is finished. A crash between any two steps leaves nothing to repair by
 * hand: leaves without head get one next time, a witnessed head without row is stored next time (reconcile.ts).
 *
 * Until an event is under a witnessed head its database can still change it unnoticed. That window is the time between
 * two seals plus the age of the oldest transaction still running.
 */
import { setTimeout as delay } from 'node:timers/promises'
import type { Pool, PoolClient } from 'pg'
import { alarm, reconcile, requireSigned } from './reconcile.ts'
import { canonicalEntry } from './canonical-event.ts'
import type { ClinicReader, EventRow, HeadRow, LeafRow } from './ledger-rows.ts'
import {
  inClinic,
  insertHead,
  insertLeaves,
  lastSequence,
  leafHashes,
  restoredEvents,
  sealedNothing,
  unsealedEvents,
} from './ledger-rows.ts'
import { appendLeaves, EMPTY_FRONTIER, EMPTY_ROOT, frontierRoot } from './merkle.ts'
import type { EpochReason, HeadSigner, PublicJwks, TreeHead, TreeState } from './tree-head.ts'
import { digestOfHead, signTreeHead } from './tree-head.ts'
import type { Witness } from './witness.ts'

export type SealerDeps = {
  readonly signer: HeadSigner
  /** The signer's key and the ones before it. */
  readonly trustedKeys: PublicJwks
  readonly witness: Witness
  readonly now: () => Date
  /** How long to wait for another sealer of the same clinic; 0 returns null at once. */
  readonly waitForLockMs?: number
  /** Events per head. Bounds memory and the length of a witness line. */
  readonly batchSize?: number
}

export type Sealed = TreeState & { readonly added: number; readonly jws: string }

const BATCH_SIZE = 2_000

/**
 * Seals every finished event of the clinic. Null when another sealer is at it. Throws LedgerAlarm when database and
 * witness disagree; then nothing was sealed. `pool` connects as limb_ledger_sealer, not through a transaction pooler:
 * the lock belongs to the session.
 */
export async function sealClinic(pool: Pool, clinicId: string, deps: SealerDeps): Promise<Sealed | null> {
  return withSealerLock(pool, clinicId, deps.waitForLockMs ?? 0, async (client) => {
    const start =
      (await reconcile(client, clinicId, deps.witness, deps.trustedKeys)) ??
      (await openEpochAt(client, clinicId, deps, { epoch: 1, previousHead: null, previousEpoch: null }))
    let head = start
    for (;;) {
      const next = await sealBatch(client, clinicId, head, deps)
      if (next === null) break
      head = next
    }
    return {
      epoch: head.epoch,
      size: head.size,
      rootHash: head.rootHash,
      jws: head.jws,
      added: head.size - start.size,
    }
  })
}

/**
 * Seals until everything that was committed before the call is under a witnessed head: what an auditor asks for. Events
 * wait for the oldest transaction still running, in this database cluster and not only in this clinic; if one runs
 * longer than `waitMs`, `complete` is false and the rest follows with a later seal. Null as in sealClinic.
 */
export async function sealNow(
  pool: Pool,
  clinicId: string,
  deps: SealerDeps,
  waitMs: number,
): Promise<(Sealed & { readonly complete: boolean }) | null> {
  const deadline = Date.now() + waitMs
  const started = await pool.query<{ xid: string }>(`select pg_snapshot_xmax(pg_current_snapshot())::text as xid`)
  const target = started.rows[0]!.xid
  let added = 0
  for (;;) {
    // Asked before sealing: what had ended then is in this seal.
    const { rows } = await pool.query<{ complete: boolean }>(
      `select pg_snapshot_xmin(pg_current_snapshot()) >= $1::xid8 as complete`,
      [target],
    )
    const { complete } = rows[0]!
    const sealed = await sealClinic(pool, clinicId, deps)
    if (sealed === null) return null
    added += sealed.added
    if (complete || Date.now() >= deadline) return { ...sealed, added, complete }
    await delay(20)
  }
}

/** The check at start. Throws LedgerAlarm; null when another sealer holds the clinic, which then does the checking. */
export async function checkAgainstWitness(pool: Pool, clinicId: string, deps: SealerDeps): Promise<TreeState | null> {
  return withSealerLock(pool, clinicId, deps.waitForLockMs ?? 0, (client) =>
    reconcile(client, clinicId, deps.witness, deps.trustedKeys),
  )
}

/**
 * After a restore the log cannot go on where the witness saw it end. This opens a new epoch whose signed head of size 0
 * states what was kept and what had been witnessed: the loss is on record for good, in the witness first.
 * A person decides this; the service never does it by itself.
 */
export async function openEpochAfterRestore(
  pool: Pool,
  clinicId: string,
  reason: EpochReason,
  deps: SealerDeps,
): Promise<TreeState | null> {
  return withSealerLock(pool, clinicId, deps.waitForLockMs ?? 0, async (client) => {
    const last = await deps.witness.last(clinicId)
    if (last === null) throw new RangeError('a clinic without any witnessed head has no epoch to follow')
    const kept = await keptState(client, clinicId)
    const { epoch, size, rootHash } = last.head
    return openEpochAt(client, clinicId, deps, {
      epoch: Math.max(epoch, kept.epoch) + 1,
      previousHead: digestOfHead(last.jws),
      previousEpoch: { reason, kept, witnessed: { epoch, size, rootHash } },
    })
  })
}

/** Long readings on the sealer's own connections, so that a verification takes none from the requests. */
export function sealerReader(pool: Pool, clinicId: string): ClinicReader {
  return async (work) => {
    const client = await pool.connect()
    // As in withSealerLock: a connection that dies says so by an event, and the next query on it rejects.
    const ignore = (): void => undefined
    client.on('error', ignore)
    let broken = false
    try {
      return await inClinic(client, clinicId, () => work(client))
    } catch (error) {
      broken = true
      throw error
    } finally {
      client.off('error', ignore)
      client.release(broken)
    }
  }
}

// ── One batch ────────────────────────────────────────────────────────────────────────────────────────────────────

/** Null when there was nothing to seal. */
async function sealBatch(
  client: PoolClient,
  clinicId: string,
  head: HeadRow,
  deps: SealerDeps,
): Promise<HeadRow | null> {
  const limit = deps.batchSize ?? BATCH_SIZE
  const batch = await inClinic(client, clinicId, async () => {
    const nothing = await sealedNothing(client)
    const after = head.sealedThrough.cluster === nothing.cluster ? head.sealedThrough : nothing
    const last = await lastSequence(client, clinicId, head.epoch)
    const restored = await restoredEvents(client, clinicId, limit)
    const { events, through } =
      restored.length > 0 ? { events: restored, through: after } : await unsealedEvents(client, clinicId, after, limit)
    const leaves = events.map((row, index) => leafOf(row, head.epoch, last + index + 1))
    if (leaves.length > 0) await insertLeaves(client, clinicId, head.epoch, leaves)
    return { last: last + leaves.length, hashes: leaves.map(({ leafHash }) => leafHash), through }
  })

  const expected = batch.last - head.size
  if (expected === 0) return null
  // More leaves than this batch added: an earlier run committed leaves and then stopped before their head.
  const hashes =
    batch.hashes.length === expected
      ? batch.hashes
      : await inClinic(client, clinicId, () => leafHashes(client, clinicId, head.epoch, head.size + 1, batch.last))
  if (hashes.length !== expected) {
    alarm('leaves_not_gapless', clinicId, head.epoch, head.size + hashes.length + 1, 'a leaf is missing')
  }

  const frontier = appendLeaves(head.frontier, hashes)
  const next: TreeHead = {
    clinicId,
    epoch: head.epoch,
    size: frontier.size,
    rootHash: frontierRoot(frontier).toString('hex'),
    timestamp: deps.now().toISOString(),
    previousHead: digestOfHead(head.jws),
    previousEpoch: null,
  }
  return publish(client, clinicId, deps, next, hashes, { frontier, sealedThrough: batch.through })
}

function leafOf({ event }: EventRow, epoch: number, sequence: number): LeafRow {
  const { bytes, leafHash } = canonicalEntry({ ...event, epoch, sequence })
  return { sequence, eventId: event.id, canonical: bytes, leafHash }
}

/** Sign, witness, store: in this order, so that no head is ever in the database that the witness has not seen. */
async function publish(
  client: PoolClient,
  clinicId: string,
  deps: SealerDeps,
  head: TreeHead,
  hashes: readonly Buffer[],
  state: Pick<HeadRow, 'frontier' | 'sealedThrough'>,
): Promise<HeadRow> {
  const { jws } = signTreeHead(head, deps.signer)
  // Our own signature first: a head that nobody will trust must not reach the witness.
  requireSigned(clinicId, jws, head.epoch, deps.trustedKeys)
  const witnessed = await deps.witness.append({ head, jws, leafHashes: hashes })
  const { keyId } = requireSigned(clinicId, witnessed.jws, head.epoch, deps.trustedKeys)
  const row: HeadRow = { ...state, epoch: head.epoch, size: head.size, rootHash: head.rootHash, jws: witnessed.jws }
  await inClinic(client, clinicId, () => insertHead(client, clinicId, keyId, witnessed.head.timestamp, row))
  return row
}

async function openEpochAt(
  client: PoolClient,
  clinicId: string,
  deps: SealerDeps,
  opening: Pick<TreeHead, 'epoch' | 'previousHead' | 'previousEpoch'>,
): Promise<HeadRow> {
  const sealedThrough = await inClinic(client, clinicId, () => sealedNothing(client))
  const head: TreeHead = {
    clinicId,
    size: 0,
    rootHash: EMPTY_ROOT.toString('hex'),
    timestamp: deps.now().toISOString(),
    ...opening,
  }
  return publish(client, clinicId, deps, head, [], { frontier: EMPTY_FRONTIER, sealedThrough })
}

/** What this database holds of its newest epoch, from the leaves themselves: after a restore no head is to be believed. */
async function keptState(client: PoolClient, clinicId: string): Promise<TreeState> {
  return inClinic(client, clinicId, async () => {
    const { rows } = await client.query<{ epoch: number | null }>(
      `select greatest((select max(epoch) from audit_leaf where clinic_id = $1),
                       (select max(epoch) from tree_head where clinic_id = $1)) as epoch`,
      [clinicId],
    )
    const epoch = rows[0]?.epoch ?? 0
    let frontier = EMPTY_FRONTIER
    for (;;) {
      const hashes = await leafHashes(client, clinicId, epoch, frontier.size + 1, frontier.size + 10_000)
      if (hashes.length === 0) break
      frontier = appendLeaves(frontier, hashes)
    }
    return { epoch, size: frontier.size, rootHash: frontierRoot(frontier).toString('hex') }
  })
}

// ── The lock ─────────────────────────────────────────────────────────────────────────────────────────────────────

async function withSealerLock<T>(
  pool: Pool,
  clinicId: string,
  waitMs: number,
  work: (client: PoolClient) => Promise<T>,
): Promise<T | null> {
  const client = await pool.connect()
  // A connection that dies while the witness writes tells so by an event; unheard, that event ends the process. The
  // next query on it rejects, which is where sealing stops.
  const ignore = (): void => undefined
  client.on('error', ignore)
  let broken: Error | boolean = false
  try {
    const deadline = Date.now() + waitMs
    while (!(await tryLock(client, clinicId))) {
      if (Date.now() >= deadline) return null
      await delay(25)
    }
    try {
      return await work(client)
    } finally {
      // On a dead connection the lock is gone already, and the error worth telling is the one from `work`.
      await client
        .query(`select pg_advisory_unlock(hashtextextended($1, 0))`, [lockName(clinicId)])
        .catch(() => undefined)
    }
  } catch (error) {
    // A connection in an unknown state must not carry its lock back into the pool: closing it frees the lock.
    broken = error instanceof Error ? error : true
    throw error
  } finally {
    client.off('error', ignore)
    client.release(broken)
  }
}

async function tryLock(client: PoolClient, clinicId: string): Promise<boolean> {
  const { rows } = await client.query<{ locked: boolean }>(
    `select pg_try_advisory_lock(hashtextextended($1, 0)) as locked`,
    [lockName(clinicId)],
  )
  return rows[0]!.locked
}

function lockName(clinicId: string): string {
  return `limb-ledger-sealer:${clinicId}`
}
