/** The witness's copy of the heads, and with each the leaf hashes it added: what the log is held against. */
import type { Head, State, TrustedKeys } from './signed-head.ts'
import { readSignedHead } from './signed-head.ts'
import { GrowingTree } from './tree-hash.ts'

export type WitnessedEpoch = { opening: Head; heads: Map<number, Head>; leafHashes: Buffer[] }

export type WitnessedLog = {
  clinicId: string
  epochs: Map<number, WitnessedEpoch>
  /** Every head by its digest, each signed by one of the keys that the witness was read with. */
  signed: Map<string, Head>
  last: Head
}

/** Throws WitnessError when the file itself does not hold together: then it can witness nothing. */
export async function readWitness(
  lines: AsyncIterable<string> | Iterable<string>,
  keys: TrustedKeys,
): Promise<WitnessedLog> {
  const epochs = new Map<number, WitnessedEpoch>()
  const signed = new Map<string, Head>()
  let previous: Head | null = null
  let current: WitnessedEpoch | null = null
  let tree = new GrowingTree()
  let number = 0
  for await (const line of lines) {
    number += 1
    const record = readLine(line)
    // The remnant of a write cut short by a crash. The chain of digests shows that no head is missing with it.
    if (record === null) continue
    const head = readSignedHead(record.head, keys)
    if (typeof head === 'string') throw new WitnessError(number, head)
    if (head.previousHead !== (previous?.digest ?? null)) {
      throw new WitnessError(number, 'a head before it is missing or was changed')
    }
    if (previous !== null && head.clinicId !== previous.clinicId) throw new WitnessError(number, 'another clinic')
    if (head.size === 0) {
      if (head.epoch <= (previous?.epoch ?? 0)) throw new WitnessError(number, 'its epoch was opened before')
      if (head.previousEpoch !== null && !sameState(head.previousEpoch.witnessed, previous)) {
        throw new WitnessError(number, 'it does not name the last state that was witnessed before it')
      }
      current = { opening: head, heads: new Map(), leafHashes: [] }
      epochs.set(head.epoch, current)
      tree = new GrowingTree()
    }
    if (current === null || head.epoch !== current.opening.epoch) throw new WitnessError(number, 'epoch never opened')
    if (record.leafHashes.length % 32 !== 0) throw new WitnessError(number, 'its leaf hashes are not of 32 bytes each')
    for (let at = 0; at < record.leafHashes.length; at += 32) {
      const leafHash = record.leafHashes.subarray(at, at + 32)
      tree.push(leafHash)
      current.leafHashes.push(leafHash)
    }
    if (tree.size !== head.size || tree.rootHash() !== head.rootHash) {
      throw new WitnessError(number, 'its leaf hashes do not add up to its root')
    }
    current.heads.set(head.size, head)
    signed.set(head.digest, head)
    previous = head
  }
  if (previous === null) throw new WitnessError(number, 'the witness holds no head')
  return { clinicId: previous.clinicId, epochs, signed, last: previous }
}

function sameState(a: State, b: State | null): boolean {
  return b !== null && a.epoch === b.epoch && a.size === b.size && a.rootHash === b.rootHash
}

export class WitnessError extends Error {
  override readonly name = 'WitnessError'
  constructor(line: number, detail: string) {
    super(`witness, line ${line}: ${detail}`)
  }
}

function readLine(line: string): { head: unknown; leafHashes: Buffer } | null {
  try {
    const { head, leafHashes } = JSON.parse(line) as { head: unknown; leafHashes: unknown }
    if (typeof leafHashes !== 'string') return null
    return { head, leafHashes: Buffer.from(leafHashes, 'base64url') }
  } catch {
    return null
  }
}
