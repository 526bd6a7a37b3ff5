/**
 * Verifies an exported audit log: EXPORT-FORMAT.md, read line by line. Needs the export, the public keys and, to detect
 * a log that was rewritten or cut, the witness's copy of the heads. No database, no service, nothing outside this folder.
 *
 * It stops at the first thing that is wrong and names it: what comes after cannot be told from a consequence.
 */
import type { Head, State, TrustedKeys } from './signed-head.ts'
import { digestOf, readSignedHead } from './signed-head.ts'
import { GrowingTree, leafHashOf } from './tree-hash.ts'
import type { WitnessedLog } from './witness-file.ts'

export type BadReason =
  | 'not_an_export'
  | 'line_not_understood'
  | 'export_cut_short'
  | 'sequence_not_gapless'
  | 'entry_of_another_clinic'
  | 'entry_not_canonical'
  | 'entry_does_not_match_its_leaf_hash'
  | 'entry_differs_from_witness'
  | 'entry_without_head'
  | 'entry_missing'
  | 'head_not_signed'
  | 'head_out_of_order'
  | 'head_missing'
  | 'head_differs_from_witness'
  | 'root_differs_from_head'
  | 'epoch_does_not_follow'

export type FirstBad = {
  /** Line of the export, 1-based. */
  line: number
  epoch: number
  /** The first entry that is wrong or missing: 1-based, as in the entries. */
  sequence: number
  /** Larger than `sequence` when all that is known is that it lies between two heads. */
  notAfter: number
  reason: BadReason
  detail: string
}

export type DeclaredLoss = { declaredInEpoch: number; reason: string; kept: State; witnessed: State }

export type VerificationReport = {
  verdict: 'intact' | 'intact_with_declared_loss' | 'broken'
  clinicId: string | null
  entries: number
  heads: number
  /** What each epoch came to, as far as it was read. */
  epochs: State[]
  /** Null when no witness was at hand: then a log cut or rewritten and signed again cannot be told from a true one. */
  witnessedThrough: { epoch: number; size: number } | null
  declaredLosses: DeclaredLoss[]
  firstBad: FirstBad | null
}

export type VerifyOptions = {
  keys: TrustedKeys
  /** As readWitness gave it for these keys. */
  witness: WitnessedLog | null
  onProgress?: (entries: number) => void
}

const PROGRESS_EVERY = 10_000

export async function verifyExport(
  lines: AsyncIterable<string> | Iterable<string>,
  options: VerifyOptions,
): Promise<VerificationReport> {
  const check = new ExportCheck(options)
  try {
    for await (const line of lines) check.line(line)
    check.end()
  } catch (error) {
    if (!(error instanceof Bad)) throw error
    return check.report(error.firstBad)
  }
  return check.report(null)
}

class Bad extends Error {
  readonly firstBad: FirstBad
  constructor(firstBad: FirstBad) {
    super(firstBad.reason)
    this.firstBad = firstBad
  }
}

class ExportCheck {
  readonly #options: VerifyOptions
  #lineNumber = 0
  #clinicId: string | null = null
  #epoch = 0
  #tree = new GrowingTree()
  #lastHead: Head | null = null
  #entries = 0
  #heads = 0
  #ended = false
  readonly #closedEpochs: State[] = []
  readonly #losses: DeclaredLoss[] = []

  constructor(options: VerifyOptions) {
    this.#options = options
  }

  line(text: string): void {
    this.#lineNumber += 1
    const record = parseObject(text)
    if (this.#lineNumber === 1) return this.#header(record)
    if (record === null || this.#ended) this.#bad('line_not_understood', 'neither head, entry nor end of the export')
    if ('head' in record) return this.#head(record.head)
    if ('entry' in record) return this.#entry(record.entry, record.leafHash)
    if ('end' in record) return this.#endLine(record.end)
    this.#bad('line_not_understood', 'neither head, entry nor end of the export')
  }

  end(): void {
    this.#lineNumber += 1
    if (!this.#ended) this.#bad('export_cut_short', 'the export has no last line')
  }

  // ── The four kinds of line ─────────────────────────────────────────────────────────────────────────────────────

  #header(record: Record<string, unknown> | null): void {
    if (record?.format !== 'limb-ledger-audit-export/1' || typeof record.clinicId !== 'string') {
      this.#bad('not_an_export', 'the first line is not the header of an export')
    }
    this.#clinicId = record.clinicId
    const { witness } = this.#options
    if (witness !== null && witness.clinicId !== record.clinicId) {
      this.#bad('entry_of_another_clinic', `the witness is that of clinic ${witness.clinicId}`)
    }
  }

  #entry(text: unknown, leafHash: unknown): void {
    if (typeof text !== 'string') this.#bad('line_not_understood', 'an entry is a text')
    if (this.#epoch === 0) this.#bad('head_missing', 'an entry before any epoch was opened')
    const hash = leafHashOf(text)
    if (hash.toString('hex') !== leafHash) this.#bad('entry_does_not_match_its_leaf_hash', 'the entry was changed')
    const entry = parseObject(text)
    if (entry === null || canonical(entry) !== text) this.#bad('entry_not_canonical', 'not RFC 8785 JSON')
    if (entry.clinicId !== this.#clinicId) this.#bad('entry_of_another_clinic', String(entry.clinicId))
    if (entry.epoch !== this.#epoch || entry.sequence !== this.#tree.size + 1) {
      const found = `epoch ${String(entry.epoch)}, sequence ${String(entry.sequence)}`
      this.#bad('sequence_not_gapless', `here stands the entry of ${found}`)
    }
    const witnessed = this.#options.witness?.epochs.get(this.#epoch)?.leafHashes[this.#tree.size]
    if (witnessed !== undefined && !witnessed.equals(hash)) {
      this.#bad('entry_differs_from_witness', 'not the entry that was witnessed')
    }
    this.#tree.push(hash)
    this.#entries += 1
    if (this.#entries % PROGRESS_EVERY === 0) this.#options.onProgress?.(this.#entries)
  }

  #head(jws: unknown): void {
    // What the witness holds letter for letter was verified when the witness was read, with the same keys.
    const known = typeof jws === 'string' ? this.#options.witness?.signed.get(digestOf(jws)) : undefined
    const head = known ?? readSignedHead(jws, this.#options.keys)
    if (typeof head === 'string') this.#badSinceLastHead('head_not_signed', head)
    if (head.clinicId !== this.#clinicId)
      this.#badSinceLastHead('entry_of_another_clinic', 'the head of another clinic')
    if (head.size === 0) this.#openEpoch(head)
    if (head.epoch !== this.#epoch) this.#badSinceLastHead('head_out_of_order', `a head of epoch ${head.epoch}`)
    if (head.size > this.#tree.size) this.#bad('entry_missing', `here stands the head of size ${head.size}`)
    if (head.size < this.#tree.size) this.#badSinceLastHead('head_out_of_order', `a head of size ${head.size}`)
    if (head.rootHash !== this.#tree.rootHash()) {
      this.#badSinceLastHead('root_differs_from_head', 'the entries do not add up to the signed root')
    }
    // The first head of a later epoch follows a head that the restored database has lost; the witness knows it.
    const follows = head.size === 0 || head.previousHead === this.#lastHead?.digest
    if (!follows) this.#badSinceLastHead('head_missing', 'the head before it is missing')
    this.#compareWithWitness(head)
    this.#lastHead = head
    this.#heads += 1
  }

  #endLine(end: unknown): void {
    const { entries, heads } = (end ?? {}) as { entries?: unknown; heads?: unknown }
    if (entries !== this.#entries || heads !== this.#heads) {
      this.#bad('export_cut_short', `the export says ${String(entries)} entries, ${String(heads)} heads`)
    }
    if (this.#lastHead === null) this.#bad('head_missing', 'an export without a head proves nothing')
    if (this.#lastHead.size !== this.#tree.size) {
      this.#badSinceLastHead('entry_without_head', 'no head covers the last entries')
    }
    this.#requireWitnessedReached()
    this.#ended = true
  }

  // ── Epochs ─────────────────────────────────────────────────────────────────────────────────────────────────────

  #openEpoch(head: Head): void {
    const before: State = { epoch: this.#epoch, size: this.#tree.size, rootHash: this.#tree.rootHash() }
    const { previousEpoch } = head
    if (head.epoch <= before.epoch) this.#bad('epoch_does_not_follow', `epoch ${head.epoch} was opened before`)
    if (previousEpoch === null) {
      if (head.epoch !== 1 || before.epoch !== 0) this.#bad('epoch_does_not_follow', 'it names no epoch before it')
    } else {
      const { kept, witnessed, reason } = previousEpoch
      if (kept.epoch !== before.epoch || kept.size !== before.size || kept.rootHash !== before.rootHash) {
        const sequence = Math.min(kept.size, before.size) + 1
        if (kept.size !== before.size)
          this.#badAt(sequence, sequence, 'entry_missing', `${kept.size} entries were kept`)
        this.#badSinceLastHead('epoch_does_not_follow', 'not the log that the new epoch says it keeps')
      }
      if (witnessed.epoch !== kept.epoch || witnessed.size > kept.size) {
        this.#losses.push({ declaredInEpoch: head.epoch, reason, kept, witnessed })
      }
    }
    if (before.epoch > 0) this.#closedEpochs.push(before)
    this.#epoch = head.epoch
    this.#tree = new GrowingTree()
    this.#lastHead = null
  }

  // ── The witness ────────────────────────────────────────────────────────────────────────────────────────────────

  #compareWithWitness(head: Head): void {
    const { witness } = this.#options
    if (witness === null || isAfter(head, witness.last)) return
    const same = witness.epochs.get(head.epoch)?.heads.get(head.size)
    if (same?.digest !== head.digest) this.#badSinceLastHead('head_differs_from_witness', 'a head nobody witnessed')
  }

  /** At the end: nothing that was witnessed after the last opening head may be missing. */
  #requireWitnessedReached(): void {
    const { witness } = this.#options
    if (witness === null) return
    for (const { opening, leafHashes } of witness.epochs.values()) {
      if (opening.epoch > this.#epoch) {
        this.#badAt(1, 1, 'entry_missing', `epoch ${opening.epoch} was witnessed and is not here`, opening.epoch)
      }
      if (opening.epoch === this.#epoch && leafHashes.length > this.#tree.size) {
        this.#bad('entry_missing', `${leafHashes.length} entries of epoch ${this.#epoch} were witnessed`)
      }
    }
  }

  // ── Outcome ────────────────────────────────────────────────────────────────────────────────────────────────────

  report(firstBad: FirstBad | null): VerificationReport {
    const { witness } = this.#options
    const current: State = { epoch: this.#epoch, size: this.#tree.size, rootHash: this.#tree.rootHash() }
    const sound = this.#losses.length > 0 ? 'intact_with_declared_loss' : 'intact'
    return {
      verdict: firstBad === null ? sound : 'broken',
      clinicId: this.#clinicId,
      entries: this.#entries,
      heads: this.#heads,
      epochs: this.#epoch === 0 ? [] : [...this.#closedEpochs, current],
      witnessedThrough: witness === null ? null : { epoch: witness.last.epoch, size: witness.last.size },
      declaredLosses: this.#losses,
      firstBad,
    }
  }

  /** Wrong at the next entry. */
  #bad(reason: BadReason, detail: string): never {
    this.#badAt(this.#tree.size + 1, this.#tree.size + 1, reason, detail)
  }

  /** Wrong somewhere after the last head that held. */
  #badSinceLastHead(reason: BadReason, detail: string): never {
    const from = (this.#lastHead?.size ?? 0) + 1
    this.#badAt(from, Math.max(from, this.#tree.size), reason, detail)
  }

  #badAt(
    sequence: number,
    notAfter: number,
    reason: BadReason,
    detail: string,
    epoch = Math.max(this.#epoch, 1),
  ): never {
    throw new Bad({ line: this.#lineNumber, epoch, sequence, notAfter, reason, detail })
  }
}

function isAfter(a: State, b: State): boolean {
  return a.epoch > b.epoch || (a.epoch === b.epoch && a.size > b.size)
}

function parseObject(text: string): Record<string, unknown> | null {
  try {
    const value: unknown = JSON.parse(text)
    const isObject = value !== null && typeof value === 'object' && !Array.isArray(value)
    return isObject ? (value as Record<string, unknown>) : null
  } catch {
    return null
  }
}

/** RFC 8785 for parsed JSON: ECMAScript prints numbers and strings as it demands; the order of keys is left to do. */
function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`
  if (value === null || typeof value !== 'object') return JSON.stringify(value)
  const object = value as Record<string, unknown>
  // Without a comparison of our own, sort() orders by UTF-16 code units: the order that RFC 8785 asks for.
  const keys = Object.keys(object).sort()
  return `{${keys.map((key) => `${JSON.stringify(key)}:${canonical(object[key])}`).join(',')}}`
}
