/** A clinic's sealed log built from the pure parts alone, for tests that need no database. */
import { randomUUID } from 'node:crypto'
import { canonicalEntry } from '../../src/ledger/canonical-event.ts'
import { appendLeaves, EMPTY_FRONTIER, frontierRoot, merkleRoot } from '../../src/ledger/merkle.ts'
import type { HeadSigner, PreviousEpoch, TreeHead } from '../../src/ledger/tree-head.ts'
import { digestOfHead, headSignerFromPem, makeSigningKeyPem, signTreeHead } from '../../src/ledger/tree-head.ts'
import type { WitnessRecord } from '../../src/ledger/witness.ts'
import { witnessLine } from '../../src/ledger/witness.ts'

export type BuiltEntry = { text: string; leafHash: Buffer }
export type BuiltHead = { head: TreeHead; jws: string }

export class BuiltLog {
  readonly clinicId: string
  readonly signer: HeadSigner
  readonly lines: string[]
  readonly witness: WitnessRecord[] = []
  entries: BuiltEntry[] = []
  #epoch = 0
  #headSize = 0
  #heads = 0
  #total = 0

  constructor(signer: HeadSigner = headSignerFromPem(makeSigningKeyPem()), clinicId: string = randomUUID()) {
    this.signer = signer
    this.clinicId = clinicId
    this.lines = [
      JSON.stringify({ format: 'limb-ledger-audit-export/1', clinicId, exportedAt: '2026-11-25T08:00:00.000Z' }),
    ]
    this.openEpoch(1, null)
  }

  append(count: number): this {
    for (let i = 0; i < count; i++) {
      const { bytes, leafHash } = canonicalEntry(entryAt(this.clinicId, this.#epoch, this.entries.length + 1))
      const text = bytes.toString('utf8')
      this.entries.push({ text, leafHash })
      this.lines.push(entryLine(text, leafHash))
      this.#total += 1
    }
    return this
  }

  seal(): this {
    const hashes = this.entries.map(({ leafHash }) => leafHash)
    this.#publish(merkleRoot(hashes), hashes.slice(this.#headSize), null)
    return this
  }

  openEpoch(epoch: number, previousEpoch: PreviousEpoch | null): this {
    this.#epoch = epoch
    this.#headSize = 0
    this.entries = []
    this.#publish(frontierRoot(EMPTY_FRONTIER), [], previousEpoch)
    return this
  }

  #publish(root: Buffer, leafHashes: Buffer[], previousEpoch: PreviousEpoch | null): void {
    const last = this.witness.at(-1)
    const head: TreeHead = {
      clinicId: this.clinicId,
      epoch: this.#epoch,
      size: this.entries.length,
      rootHash: root.toString('hex'),
      timestamp: '2026-11-25T07:59:00.000Z',
      previousHead: last === undefined ? null : digestOfHead(last.jws),
      previousEpoch,
    }
    const { jws } = signTreeHead(head, this.signer)
    this.witness.push({ head, jws, leafHashes })
    this.lines.push(JSON.stringify({ head: jws }))
    this.#headSize = this.entries.length
    this.#heads += 1
  }

  export(): string[] {
    return [...this.lines, JSON.stringify({ end: { entries: this.#total, heads: this.#heads } })]
  }

  witnessLines(): string[] {
    return this.witness.map(witnessLine)
  }
}

export function entryAt(clinicId: string, epoch: number, sequence: number, action = 'session.read') {
  return {
    clinicId,
    epoch,
    sequence,
    id: randomUUID(),
    at: '2026-11-25T07:58:00.000Z',
    actorPrincipalId: randomUUID(),
    actorRole: 'clinician',
    client: 'ehr-bridge',
    purpose: null,
    action,
    outcome: 'done',
    requestId: randomUUID(),
    subjectIds: [randomUUID()],
    resourceIds: [`session/${randomUUID()}`],
    details: { version: sequence, note: null },
  }
}

export function entryLine(text: string, leafHash: Buffer): string {
  return JSON.stringify({ entry: text, leafHash: leafHash.toString('hex') })
}

export function rootOfTexts(hashes: Buffer[]): string {
  return frontierRoot(appendLeaves(EMPTY_FRONTIER, hashes)).toString('hex')
}
