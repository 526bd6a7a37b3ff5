/**
 * The witness: where every signed tree head goes before it counts, outside the database. What it has seen, not even the
 * database's superuser can take back unnoticed; what it has not seen yet can be. An object store that creates an object
 * only if it is absent can stand in for the file by implementing the same interface.
 *
 * With each head go the hashes of the leaves it added. They make it possible to name the very entry that was changed
 * by somebody who recomputed every hash in the database; a root alone could only say "somewhere before here".
 */
import { open, mkdir, readdir, readFile, rename, rm, stat } from 'node:fs/promises'
import type { FileHandle } from 'node:fs/promises'
import { randomUUID } from 'node:crypto'
import { dirname, join } from 'node:path'
import { setTimeout as delay } from 'node:timers/promises'
import type { TreeHead } from './tree-head.ts'
import { digestOfHead, unsafeReadTreeHead } from './tree-head.ts'

export type WitnessRecord = {
  readonly head: TreeHead
  readonly jws: string
  /** Hashes of the leaves that this head added to the one before it, in order. */
  readonly leafHashes: readonly Buffer[]
}

export interface Witness {
  /** The newest head of a clinic, or null if there was never one. */
  last(clinicId: string): Promise<WitnessRecord | null>
  /** Clinics that ever had a head. One that the database does not know was lost from it. */
  clinicIds(): Promise<string[]>
  /** All heads of a clinic, oldest first. */
  all(clinicId: string): AsyncIterable<WitnessRecord>
  /**
   * Durable when it resolves. A second append of the same state answers with the head that is already there; a head
   * that does not follow the last one is a WitnessConflict and leaves no trace.
   */
  append(record: WitnessRecord): Promise<WitnessRecord>
}

export class WitnessConflict extends Error {
  override readonly name = 'WitnessConflict'
}

/** The witness itself was altered: a line is missing, changed or out of order. */
export class WitnessDamaged extends Error {
  override readonly name = 'WitnessDamaged'
}

/** What it holds cannot be had now: nothing is known of it, least of all that it is wrong. */
export class WitnessUnavailable extends Error {
  override readonly name = 'WitnessUnavailable'
}

// ── One line of the file ─────────────────────────────────────────────────────────────────────────────────────────

export function witnessLine({ jws, leafHashes }: WitnessRecord): string {
  return JSON.stringify({ head: jws, leafHashes: Buffer.concat(leafHashes).toString('base64url') })
}

/** Null for what is not a whole line: the remnant of a write that a crash cut short. */
export function readWitnessLine(line: string): WitnessRecord | null {
  let parsed: unknown
  try {
    parsed = JSON.parse(line)
  } catch {
    return null
  }
  if (parsed === null || typeof parsed !== 'object') return null
  const { head: jws, leafHashes } = parsed as { head?: unknown; leafHashes?: unknown }
  if (typeof jws !== 'string' || typeof leafHashes !== 'string') return null
  const head = unsafeReadTreeHead(jws)
  const bytes = Buffer.from(leafHashes, 'base64url')
  if (head === null || bytes.length % 32 !== 0) return null
  return {
    head,
    jws,
    leafHashes: Array.from({ length: bytes.length / 32 }, (_, i) => bytes.subarray(i * 32, i * 32 + 32)),
  }
}

/** Why `next` cannot stand behind `previous`, or null if it can. */
export function faultBetween(previous: WitnessRecord | null, next: WitnessRecord): string | null {
  const expectedPrevious = previous === null ? null : digestOfHead(previous.jws)
  if (next.head.previousHead !== expectedPrevious) return 'it does not name the head before it'
  if (previous !== null && next.head.clinicId !== previous.head.clinicId) return 'it belongs to another clinic'
  const opensEpoch = next.head.size === 0
  if (opensEpoch) {
    if (next.head.epoch <= (previous?.head.epoch ?? 0)) return 'its epoch was opened before'
    return next.leafHashes.length === 0 ? null : 'an opening head adds no leaf'
  }
  if (previous === null || next.head.epoch !== previous.head.epoch) return 'its epoch was never opened'
  if (next.head.size <= previous.head.size) return 'it is not larger than the head before it'
  return next.leafHashes.length === next.head.size - previous.head.size ? null : 'its leaf hashes do not add up to it'
}

// ── The file witness ─────────────────────────────────────────────────────────────────────────────────────────────

const TAIL_BYTES = 65_536
/** A writer needs milliseconds; a lock this old belongs to one that is gone. */
const STALE_LOCK_MS = 30_000
const LOCK_WAIT_MS = 10_000

/** One append-only file per clinic, `<directory>/<clinicId>.ndjson`, one line per head, each line synced to the disk. */
export class FileWitness implements Witness {
  readonly #directory: string

  constructor(directory: string) {
    this.#directory = directory
  }

  async last(clinicId: string): Promise<WitnessRecord | null> {
    const file = await openOrNull(this.#path(clinicId))
    if (file === null) return null
    try {
      return await lastRecord(file).catch(unavailable)
    } finally {
      await file.close()
    }
  }

  async clinicIds(): Promise<string[]> {
    const names = await readdir(this.#directory).catch((error: unknown) => {
      if (isErrno(error, 'ENOENT')) return []
      return unavailable(error)
    })
    return names
      .filter((name) => /^[0-9a-f-]{36}\.ndjson$/.test(name))
      .map((name) => name.slice(0, 36))
      .sort()
  }

  async *all(clinicId: string): AsyncGenerator<WitnessRecord> {
    const file = await openOrNull(this.#path(clinicId))
    if (file === null) return
    let previous: WitnessRecord | null = null
    try {
      for await (const line of file.readLines({ autoClose: false })) {
        const record = readWitnessLine(line)
        // A remnant may be passed over: the chain of digests shows that no head went with it.
        if (record === null) continue
        const fault = faultBetween(previous, record)
        if (fault !== null || record.head.clinicId !== clinicId) {
          const place = `epoch ${record.head.epoch}, size ${record.head.size}`
          throw new WitnessDamaged(`witness of clinic ${clinicId}, head of ${place}: ${fault ?? 'foreign clinic'}`)
        }
        previous = record
        yield record
      }
    } finally {
      await file.close()
    }
  }

  async append(record: WitnessRecord): Promise<WitnessRecord> {
    const lock = `${this.#path(record.head.clinicId)}.lock`
    try {
      const made = await mkdir(this.#directory, { recursive: true })
      if (made !== undefined) await syncDirectory(dirname(made))
      return await withLock(lock, () => this.#appendLocked(record))
    } catch (error) {
      return unavailable(error)
    }
  }

  async #appendLocked(record: WitnessRecord): Promise<WitnessRecord> {
    const { clinicId, epoch, size, rootHash } = record.head
    const file = await open(this.#path(clinicId), 'a+', 0o600)
    try {
      const last = await lastRecord(file)
      if (last !== null && last.head.epoch === epoch && last.head.size === size && last.head.rootHash === rootHash) {
        // Whoever wrote it may have died before the sync.
        await this.#sync(file, last)
        return last
      }
      const fault = faultBetween(last, record)
      if (fault !== null) throw new WitnessConflict(`head of epoch ${epoch}, size ${size}: ${fault}`)
      const before = (await file.stat()).size
      const remnant = !(await endsWithNewline(file))
      try {
        await file.appendFile(`${remnant ? '\n' : ''}${witnessLine(record)}\n`)
        await this.#sync(file, record)
      } catch (error) {
        // Not left to be found: after a sync that failed the next one may succeed without the bytes being on the disk.
        await file.truncate(before).catch(() => undefined)
        throw error
      }
      return record
    } finally {
      await file.close()
    }
  }

  /** The first line of a file is on the disk only when the name of the file is as well. */
  async #sync(file: FileHandle, { head }: WitnessRecord): Promise<void> {
    await file.sync()
    if (head.previousHead === null) await syncDirectory(this.#directory)
  }

  #path(clinicId: string): string {
    if (!/^[0-9a-f-]{36}$/.test(clinicId)) throw new RangeError('a clinic id is a UUID in lower case')
    return join(this.#directory, `${clinicId}.ndjson`)
  }
}

async function openOrNull(path: string): Promise<FileHandle | null> {
  try {
    return await open(path, 'r')
  } catch (error) {
    if (isErrno(error, 'ENOENT')) return null
    return unavailable(error)
  }
}

/** Of the system (full, read-only, not mounted, broken): a WitnessUnavailable. What we found wrong ourselves stays what it is. */
function unavailable(error: unknown): never {
  if (!(error instanceof Error && 'syscall' in error)) throw error
  throw new WitnessUnavailable(String((error as NodeJS.ErrnoException).code), { cause: error })
}

/** Reads backwards: the file grows for years, its last line stays short. */
async function lastRecord(file: FileHandle): Promise<WitnessRecord | null> {
  const { size } = await file.stat()
  for (let wanted = Math.min(TAIL_BYTES, size); wanted > 0; wanted = Math.min(wanted * 4, size)) {
    const { buffer } = await file.read(Buffer.alloc(wanted), 0, wanted, size - wanted)
    const lines = buffer.toString('utf8').split('\n')
    // Unless the whole file was read, the first piece may be the end of a longer line.
    if (wanted < size) lines.shift()
    for (const line of lines.reverse()) {
      const record = readWitnessLine(line)
      if (record !== null) return record
    }
    if (wanted === size) break
  }
  return null
}

async function endsWithNewline(file: FileHandle): Promise<boolean> {
  const { size } = await file.stat()
  if (size === 0) return true
  const { buffer } = await file.read(Buffer.alloc(1), 0, 1, size - 1)
  return buffer[0] === 0x0a
}

async function syncDirectory(directory: string): Promise<void> {
  const handle = await open(directory, 'r')
  try {
    await handle.sync()
  } finally {
    await handle.close()
  }
}

/**
 * The database's advisory lock already keeps sealers apart, but a sealer that lost its connection does not know it yet.
 * This second lock, with the check of the last line inside it, turns its late write into a conflict, not into a fork.
 */
async function withLock<T>(path: string, work: () => Promise<T>): Promise<T> {
  const mine = randomUUID()
  const deadline = Date.now() + LOCK_WAIT_MS
  while (!(await tryLock(path, mine))) {
    if (Date.now() > deadline) throw new WitnessConflict('another writer holds the witness')
    await delay(20)
  }
  try {
    return await work()
  } finally {
    if ((await readFile(path, 'utf8').catch(() => null)) === mine) await rm(path, { force: true })
  }
}

async function tryLock(path: string, owner: string): Promise<boolean> {
  try {
    const handle = await open(path, 'wx', 0o600)
    await handle.writeFile(owner)
    await handle.close()
    return true
  } catch (error) {
    if (!isErrno(error, 'EEXIST')) throw error
  }
  const held = await stat(path).catch(() => null)
  if (held !== null && Date.now() - held.mtimeMs > STALE_LOCK_MS) {
    // Renaming is atomic: of several that find the lock stale, one moves it away and the others find it gone.
    const discarded = `${path}.${owner}`
    await rename(path, discarded).catch(() => undefined)
    await rm(discarded, { force: true })
  }
  return false
}

function isErrno(error: unknown, code: string): boolean {
  return error instanceof Error && 'code' in error && error.code === code
}
