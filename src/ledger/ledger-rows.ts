/** The ledger's SQL: what is read and written of audit_event, audit_leaf and tree_head. All inside one clinic. */
import type { AuditEntry, AuditEvent, JsonValue } from './canonical-event.ts'
import type { Frontier } from './merkle.ts'

/** What the ledger needs of a connection: a pg client is one, and so is any transaction that can run SQL with $1. */
export interface Sql {
  query<Row extends object>(text: string, values?: unknown[]): Promise<{ rows: Row[] }>
}

/** Runs short transactions that see one clinic. Long readings take one per page, so that none stays open for long. */
export type ClinicReader = <T>(work: (sql: Sql) => Promise<T>) => Promise<T>

/** Runs `work` in a transaction that sees one clinic only, the same way for every role. */
export async function inClinic<T>(client: Sql, clinicId: string, work: () => Promise<T>): Promise<T> {
  await client.query('begin')
  try {
    await client.query(`select set_config('app.clinic_id', $1, true)`, [clinicId])
    const result = await work()
    await client.query('commit')
    return result
  } catch (error) {
    await client.query('rollback').catch(() => undefined)
    throw error
  }
}

// ── Events ───────────────────────────────────────────────────────────────────────────────────────────────────────

export type EventRow = {
  readonly event: AuditEvent & { readonly at: string }
  readonly xid: string
  readonly ord: string
}

/** The columns of an event, as text where a driver would otherwise choose a precision or a time zone for us. */
const EVENT_COLUMNS = `
  e.id, e.xid::text as xid, e.ord::text as ord,
  to_char(e.at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"') as at,
  e.actor_principal_id, e.actor_role, e.client, e.purpose, e.action, e.outcome, e.request_id,
  coalesce(e.subject_ids, '{}')::text[] as subject_ids,
  e.resource_ids::text as resource_ids, e.details::text as details`

type EventColumns = {
  id: string
  xid: string
  ord: string
  at: string
  actor_principal_id: string | null
  actor_role: string | null
  client: string | null
  purpose: string | null
  action: string
  outcome: string
  request_id: string
  subject_ids: string[]
  resource_ids: string
  details: string
}

/**
 * Where the next seal goes on: every event before this place in (xid, ord) order has its leaf. Transaction ids mean
 * something inside one database cluster only, so the cluster is named; in another one the search starts over.
 */
export type SealedThrough = { readonly cluster: string; readonly xid: string; readonly ord: string }

export async function sealedNothing(client: Sql): Promise<SealedThrough> {
  const { rows } = await client.query<{ cluster: string }>(
    `select system_identifier::text as cluster from pg_control_system()`,
  )
  return { cluster: rows[0]!.cluster, xid: '0', ord: '0' }
}

/**
 * Events that can be numbered, in (xid, ord) order. An event qualifies when its transaction is older than every
 * transaction still running: only then can no event come in later that belongs before it.
 */
export async function unsealedEvents(
  client: Sql,
  clinicId: string,
  after: SealedThrough,
  limit: number,
): Promise<{ events: EventRow[]; through: SealedThrough }> {
  const { rows } = await client.query<SnapshotRow>(
    eventsWhere(`e.xid < snapshot.xmin and (e.xid, e.ord) > ($3::xid8, $4::bigint)`),
    [clinicId, limit, after.xid, after.ord],
  )
  const events = eventsOf(clinicId, rows)
  const last = events.at(-1)
  // A batch that is not full has taken all there is below the oldest running transaction.
  const through = last !== undefined && events.length === limit ? last : { xid: rows[0]!.oldest_running, ord: '0' }
  return { events, through: { cluster: after.cluster, xid: through.xid, ord: through.ord } }
}

/**
 * Events whose transaction lies in the future. They came from another cluster by dump and restore, are all committed,
 * and would otherwise wait until this cluster has counted that far.
 */
export async function restoredEvents(client: Sql, clinicId: string, limit: number): Promise<EventRow[]> {
  // Not by way of the snapshot's row: compared with a function the index finds that there are none, where a join goes
  // through the whole log, at every seal.
  const inTheFuture = `e.xid >= pg_snapshot_xmax(pg_current_snapshot())`
  const { rows } = await client.query<SnapshotRow>(eventsWhere(inTheFuture), [clinicId, limit])
  return eventsOf(clinicId, rows)
}

type SnapshotRow = EventColumns & { oldest_running: string }

/** Snapshot and events come from one statement: both see the same transactions as finished. */
function eventsWhere(condition: string): string {
  return `
    with snapshot as materialized (
      select pg_snapshot_xmin(s) as xmin from pg_current_snapshot() as s
    ), taken as (
      select e.* from snapshot, audit_event e
      where e.clinic_id = $1 and ${condition}
        and not exists (select from audit_leaf l where l.clinic_id = e.clinic_id and l.event_id = e.id)
      order by e.xid, e.ord limit $2
    )
    select snapshot.xmin::text as oldest_running, ${EVENT_COLUMNS}
    from snapshot left join taken e on true order by e.xid, e.ord`
}

function eventsOf(clinicId: string, rows: SnapshotRow[]): EventRow[] {
  // The left join yields one row of nulls when there is no event.
  return rows.filter(({ id }) => (id as string | null) !== null).map((row) => eventRow(clinicId, row))
}

function eventRow(clinicId: string, row: EventColumns): EventRow {
  return {
    xid: row.xid,
    ord: row.ord,
    event: {
      clinicId,
      id: row.id,
      at: row.at,
      actorPrincipalId: row.actor_principal_id,
      actorRole: row.actor_role,
      client: row.client,
      purpose: row.purpose,
      action: row.action,
      outcome: row.outcome,
      requestId: row.request_id,
      subjectIds: row.subject_ids,
      resourceIds: jsonOf(row.resource_ids),
      details: jsonOf(row.details),
    },
  }
}

/** jsonb holds numbers that binary64 cannot (1e999). One such number must not stop a clinic's log: seal its text. */
function jsonOf(text: string): JsonValue {
  const value = JSON.parse(text) as JsonValue
  return holdsFiniteNumbersOnly(value) ? value : { notCanonical: text }
}

function holdsFiniteNumbersOnly(value: JsonValue): boolean {
  if (typeof value === 'number') return Number.isFinite(value)
  if (value === null || typeof value !== 'object') return true
  return Object.values(value).every(holdsFiniteNumbersOnly)
}

// ── Leaves ───────────────────────────────────────────────────────────────────────────────────────────────────────

export type LeafRow = { sequence: number; eventId: string; canonical: Buffer; leafHash: Buffer }

export async function insertLeaves(client: Sql, clinicId: string, epoch: number, leaves: LeafRow[]): Promise<void> {
  await client.query(
    `insert into audit_leaf (clinic_id, epoch, seq, event_id, canonical, leaf_hash)
     select $1, $2, t.* from unnest($3::bigint[], $4::uuid[], $5::bytea[], $6::bytea[]) as t`,
    [
      clinicId,
      epoch,
      leaves.map(({ sequence }) => sequence),
      leaves.map(({ eventId }) => eventId),
      leaves.map(({ canonical }) => canonical),
      leaves.map(({ leafHash }) => leafHash),
    ],
  )
}

export async function lastSequence(client: Sql, clinicId: string, epoch: number): Promise<number> {
  const { rows } = await client.query<{ seq: string }>(
    `select seq from audit_leaf where clinic_id = $1 and epoch = $2 order by seq desc limit 1`,
    [clinicId, epoch],
  )
  return Number(rows[0]?.seq ?? 0)
}

/** Hashes of the leaves with sequence `from` to `through`, both included. Stops short at the first gap. */
export async function leafHashes(
  client: Sql,
  clinicId: string,
  epoch: number,
  from: number,
  through: number,
): Promise<Buffer[]> {
  const { rows } = await client.query<{ seq: string; leaf_hash: Uint8Array }>(
    `select seq, leaf_hash from audit_leaf
     where clinic_id = $1 and epoch = $2 and seq between $3 and $4 order by seq`,
    [clinicId, epoch, from, through],
  )
  const gap = rows.findIndex(({ seq }, index) => Number(seq) !== from + index)
  return (gap === -1 ? rows : rows.slice(0, gap)).map(({ leaf_hash }) => Buffer.from(leaf_hash))
}

/** The text that is hashed for one entry. */
export async function leafText(client: Sql, clinicId: string, epoch: number, sequence: number): Promise<string | null> {
  const { rows } = await client.query<{ canonical: Uint8Array }>(
    `select canonical from audit_leaf where clinic_id = $1 and epoch = $2 and seq = $3`,
    [clinicId, epoch, sequence],
  )
  return rows[0] === undefined ? null : Buffer.from(rows[0].canonical).toString('utf8')
}

/** A leaf beside the event it was made from, which is null when somebody removed it. */
export type LeafWithEvent = LeafRow & { readonly entry: AuditEntry | null }

export async function leavesWithEvents(
  client: Sql,
  clinicId: string,
  epoch: number,
  after: number,
  limit: number,
): Promise<LeafWithEvent[]> {
  const { rows } = await client.query<
    Omit<EventColumns, 'id'> & {
      id: string | null
      seq: string
      event_id: string
      canonical: Buffer
      leaf_hash: Buffer
    }
  >(
    `select l.seq, l.event_id, l.canonical, l.leaf_hash, ${EVENT_COLUMNS}
     from audit_leaf l left join audit_event e on e.clinic_id = l.clinic_id and e.id = l.event_id
     where l.clinic_id = $1 and l.epoch = $2 and l.seq > $3 order by l.seq limit $4`,
    [clinicId, epoch, after, limit],
  )
  return rows.map((row) => {
    const { id } = row
    const sequence = Number(row.seq)
    const entry = id === null ? null : { ...eventRow(clinicId, { ...row, id }).event, epoch, sequence }
    return {
      sequence,
      eventId: row.event_id,
      canonical: Buffer.from(row.canonical),
      leafHash: Buffer.from(row.leaf_hash),
      entry,
    }
  })
}

/** Events that a seal has passed by: they stand before its place and have no leaf. There should never be one. */
export async function eventsBehindSeal(
  client: Sql,
  clinicId: string,
  through: SealedThrough,
  limit: number,
): Promise<string[]> {
  const { cluster } = await sealedNothing(client)
  if (cluster !== through.cluster) return []
  const { rows } = await client.query<{ id: string }>(
    `select e.id from audit_event e
     where e.clinic_id = $1 and (e.xid, e.ord) < ($2::xid8, $3::bigint)
       and not exists (select from audit_leaf l where l.clinic_id = e.clinic_id and l.event_id = e.id)
     order by e.xid, e.ord limit $4`,
    [clinicId, through.xid, through.ord, limit],
  )
  return rows.map(({ id }) => id)
}

// ── Heads ────────────────────────────────────────────────────────────────────────────────────────────────────────

export type HeadRow = {
  readonly epoch: number
  readonly size: number
  readonly rootHash: string
  readonly jws: string
  readonly frontier: Frontier
  readonly sealedThrough: SealedThrough
}

type StoredFrontier = { hashes: string[]; through: SealedThrough }
type HeadColumns = { epoch: number; size: string; root: Uint8Array; jws: string; frontier: StoredFrontier }

const HEAD_COLUMNS = 'epoch, size, root, jws, frontier'

/** The newest head, of all epochs or of one. */
export async function lastHead(client: Sql, clinicId: string, epoch: number | null = null): Promise<HeadRow | null> {
  const { rows } = await client.query<HeadColumns>(
    `select ${HEAD_COLUMNS} from tree_head where clinic_id = $1 and epoch = coalesce($2::int, epoch)
     order by epoch desc, size desc limit 1`,
    [clinicId, epoch],
  )
  return rows[0] === undefined ? null : headRow(rows[0])
}

export async function headOfSize(client: Sql, clinicId: string, epoch: number, size: number): Promise<HeadRow | null> {
  const { rows } = await client.query<HeadColumns>(
    `select ${HEAD_COLUMNS} from tree_head where clinic_id = $1 and epoch = $2 and size = $3`,
    [clinicId, epoch, size],
  )
  return rows[0] === undefined ? null : headRow(rows[0])
}

/** Heads after (epoch, size), oldest first. */
export async function headsAfter(
  client: Sql,
  clinicId: string,
  after: { epoch: number; size: number },
  limit: number,
): Promise<HeadRow[]> {
  const { rows } = await client.query<HeadColumns>(
    `select ${HEAD_COLUMNS} from tree_head
     where clinic_id = $1 and (epoch, size) > ($2, $3) order by epoch, size limit $4`,
    [clinicId, after.epoch, after.size, limit],
  )
  return rows.map(headRow)
}

/** Storing a head twice is storing it once: a restart in the middle may come here again. */
export async function insertHead(
  client: Sql,
  clinicId: string,
  keyId: string,
  signedAt: string,
  head: HeadRow,
): Promise<void> {
  const frontier: StoredFrontier = {
    hashes: head.frontier.hashes.map((hash) => hash.toString('hex')),
    through: head.sealedThrough,
  }
  await client.query(
    `insert into tree_head (clinic_id, epoch, size, root, frontier, signed_at, key_id, jws)
     values ($1, $2, $3, $4, $5::jsonb, $6, $7, $8) on conflict (clinic_id, epoch, size) do nothing`,
    [
      clinicId,
      head.epoch,
      head.size,
      Buffer.from(head.rootHash, 'hex'),
      JSON.stringify(frontier),
      signedAt,
      keyId,
      head.jws,
    ],
  )
}

function headRow({ epoch, size, root, jws, frontier }: HeadColumns): HeadRow {
  return {
    epoch,
    size: Number(size),
    rootHash: Buffer.from(root).toString('hex'),
    jws,
    frontier: { size: Number(size), hashes: frontier.hashes.map((hash) => Buffer.from(hash, 'hex')) },
    sealedThrough: frontier.through,
  }
}
