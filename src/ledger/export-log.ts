/** The export of a clinic's sealed log, line by line, in the order of verify/EXPORT-FORMAT.md. */
import type { ClinicReader, HeadRow, LeafWithEvent } from './ledger-rows.ts'
import { headsAfter, lastHead, leavesWithEvents } from './ledger-rows.ts'

/** Not larger, because a verification inside the service shares its event loop with the requests. */
const PAGE = 500
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
  let leaves: AsyncIterator<LeafWithEvent> | undefined
  let next: LeafWithEvent | undefined

  const following = async () => (await leaves?.next())?.value as LeafWithEvent | undefined

  /** Up to where a head stands; what stands behind it waits for the next one. */
  async function* leavesThrough(last: number): AsyncGenerator<string> {
    for (; next !== undefined && next.sequence <= last; next = await following()) {
      observe(next, epoch)
      entries += 1
      yield JSON.stringify({ entry: next.canonical.toString('utf8'), leafHash: next.leafHash.toString('hex') })
    }
  }

  for await (const head of headsOf(read, clinicId)) {
    if (head.epoch !== epoch) {
      // What the old epoch holds beyond its last head is covered by the opening head of the new one.
      yield* leavesThrough(Number.MAX_SAFE_INTEGER)
      epoch = head.epoch
      leaves = leavesOf(read, clinicId, epoch)
      next = await following()
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

/** All leaves of an epoch, whole pages however few of them each head covers, and the next page while one is gone through. */
async function* leavesOf(read: ClinicReader, clinicId: string, epoch: number): AsyncGenerator<LeafWithEvent> {
  const pageAfter = (sequence: number): Promise<LeafWithEvent[]> => {
    const page = read((sql) => leavesWithEvents(sql, clinicId, epoch, sequence, PAGE))
    // Who stops reading does not wait for it; who goes on hears of it.
    page.catch(() => undefined)
    return page
  }
  for (let page = await pageAfter(0); ;) {
    const last = page.at(-1)
    const next = page.length < PAGE || last === undefined ? null : pageAfter(last.sequence)
    yield* page
    if (next === null) return
    page = await next
  }
}
