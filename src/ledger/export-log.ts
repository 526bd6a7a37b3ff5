/** The export of a clinic's sealed log, line by line, in the order of verify/EXPORT-FORMAT.md. */
import type { ClinicReader, HeadRow, LeafWithEvent } from './ledger-rows.ts'
import { headsAfter, lastHead, leavesWithEvents } from './ledger-rows.ts'

/** Small, because a verification inside the service shares its event loop with the requests. */
const PAGE = 250
/** Called with every leaf that goes out, beside the event it was made from. */
export type LeafObserver = (leaf: LeafWithEvent, epoch: number) => void

/**
 * Everything under the newest head at the time of the call; what is not sealed yet is not in it. Pages may see later
 * snapshots than the first one: leaves and heads are only ever added, and the end was fixed at the start.
 */
export async function* exportLines(
  read: ClinicReader,
  clinicId: string,
  exportedAt: Date,
  observe: LeafObserver = () => undefined,
): AsyncGenerator<string> {
  yield JSON.stringify({ format: 'limb-ledger-audit-export/1', clinicId, exportedAt: exportedAt.toISOString() })
  let entries = 0
  let heads = 0
  let epoch = 0
  let sequence = 0

  async function* leavesThrough(last: number): AsyncGenerator<string> {
    for await (const leaf of leaves(read, clinicId, epoch, sequence, last)) {
      observe(leaf, epoch)
      sequence = leaf.sequence
      entries += 1
      yield JSON.stringify({ entry: leaf.canonical.toString('utf8'), leafHash: leaf.leafHash.toString('hex') })
    }
  }

  for await (const head of headsOf(read, clinicId)) {
    if (head.epoch !== epoch) {
      // What the old epoch holds beyond its last head is covered by the opening head of the new one.
      if (epoch > 0) yield* leavesThrough(Number.MAX_SAFE_INTEGER)
      epoch = head.epoch
      sequence = 0
    }
    yield* leavesThrough(head.size)
    heads += 1
    yield JSON.stringify({ head: head.jws })
  }
  yield JSON.stringify({ end: { entries, heads } })
}

async function* headsOf(read: ClinicReader, clinicId: string): AsyncGenerator<HeadRow> {
  const last = await read((sql) => lastHead(sql, clinicId))
  if (last === null) return
  let after = { epoch: 0, size: 0 }
  for (;;) {
    const page = await read((sql) => headsAfter(sql, clinicId, after, PAGE))
    for (const head of page) {
      if (head.epoch > last.epoch || (head.epoch === last.epoch && head.size > last.size)) return
      yield head
      after = head
    }
    if (page.length < PAGE) return
  }
}

async function* leaves(
  read: ClinicReader,
  clinicId: string,
  epoch: number,
  after: number,
  last: number,
): AsyncGenerator<LeafWithEvent> {
  let from = after
  while (from < last) {
    const limit = Math.min(PAGE, last - from)
    const page = await read((sql) => leavesWithEvents(sql, clinicId, epoch, from, limit))
    for (const leaf of page) {
      if (leaf.sequence > last) return
      yield leaf
    }
    if (page.length < limit) return
    from = page.at(-1)!.sequence
  }
}
