/**
 * The Merkle tree of RFC 9162 section 2.1 (SHA-256): roots, inclusion proofs, consistency proofs and their verifiers.
 *
 * Leaves are hashed with prefix 00 and nodes with prefix 01, so that a node can never be passed off as a leaf.
 * Indices are 0-based here, as in the RFC. Sizes are plain numbers: a safe integer outlasts any clinic, but 32-bit
 * shifts do not, so halving is arithmetic.
 */
import { createHash } from 'node:crypto'

const LEAF_PREFIX = Buffer.from([0x00])
const NODE_PREFIX = Buffer.from([0x01])
const HASH_BYTES = 32

export const EMPTY_ROOT: Buffer = createHash('sha256').digest()

export function hashLeaf(content: Uint8Array): Buffer {
  return createHash('sha256').update(LEAF_PREFIX).update(content).digest()
}

export function hashNode(left: Uint8Array, right: Uint8Array): Buffer {
  return createHash('sha256').update(NODE_PREFIX).update(left).update(right).digest()
}

/** Leaves `start` (inclusive) to `end` (exclusive), as one subtree. */
export type LeafRange = { readonly start: number; readonly end: number }

// ── Growing a tree ───────────────────────────────────────────────────────────────────────────────────────────────

/**
 * All that must be remembered of a tree in order to append to it: the roots of its complete subtrees, widest first,
 * one for each set bit of `size`. At most 53 hashes, whatever the size of the log.
 */
export type Frontier = { readonly size: number; readonly hashes: readonly Buffer[] }

export const EMPTY_FRONTIER: Frontier = { size: 0, hashes: [] }

/** Appends leaf hashes; the work is proportional to the leaves appended, never to the leaves already there. */
export function appendLeaves(frontier: Frontier, leafHashes: Iterable<Buffer>): Frontier {
  requireFrontier(frontier)
  let { size } = frontier
  const hashes = [...frontier.hashes]
  for (const leaf of leafHashes) {
    let node = leaf
    // Every trailing 1 bit of the old size is a complete subtree that the new leaf completes to a wider one.
    for (let rest = size; rest % 2 === 1; rest = Math.floor(rest / 2)) node = hashNode(hashes.pop()!, node)
    hashes.push(node)
    size += 1
  }
  return { size, hashes }
}

export function frontierRoot(frontier: Frontier): Buffer {
  requireFrontier(frontier)
  if (frontier.size === 0) return EMPTY_ROOT
  return frontier.hashes.reduceRight((right, left) => hashNode(left, right))
}

function requireFrontier({ size, hashes }: Frontier): void {
  requireSize(size, 'size')
  let ones = 0
  for (let rest = size; rest > 0; rest = Math.floor(rest / 2)) ones += rest % 2
  if (hashes.length !== ones || hashes.some((hash) => hash.length !== HASH_BYTES)) {
    throw new RangeError(`a frontier of size ${size} has ${ones} hashes of ${HASH_BYTES} bytes`)
  }
}

// ── Roots and proofs ─────────────────────────────────────────────────────────────────────────────────────────────

export function merkleRoot(leafHashes: readonly Buffer[]): Buffer {
  return frontierRoot(appendLeaves(EMPTY_FRONTIER, leafHashes))
}

/**
 * The subtrees whose roots, in this order, are the inclusion proof of leaf `index` in the tree of the first `size`
 * leaves. Kept apart from hashing so that a caller may fetch the leaves of each range from wherever they live.
 */
export function inclusionRanges(index: number, size: number): LeafRange[] {
  requireSize(size, 'size')
  if (!Number.isSafeInteger(index) || index < 0 || index >= size) throw new RangeError('index must be 0 to size - 1')
  const ranges: LeafRange[] = []
  let start = 0
  let end = size
  while (end - start > 1) {
    const middle = start + largestPowerOfTwoBelow(end - start)
    if (index < middle) {
      ranges.push({ start: middle, end })
      end = middle
    } else {
      ranges.push({ start, end: middle })
      start = middle
    }
  }
  return ranges.reverse()
}

/**
 * The subtrees whose roots, in this order, prove that the tree of `first` leaves is a prefix of the tree of `second`.
 * Nothing can be proved from an empty tree (every log extends it), so `first` 0 is a mistake and not an empty proof.
 */
export function consistencyRanges(first: number, second: number): LeafRange[] {
  requireSize(second, 'second')
  if (!Number.isSafeInteger(first) || first < 1 || first > second) throw new RangeError('first must be 1 to second')
  const ranges: LeafRange[] = []
  let start = 0
  let end = second
  while (first < end) {
    const middle = start + largestPowerOfTwoBelow(end - start)
    if (first <= middle) {
      ranges.push({ start: middle, end })
      end = middle
    } else {
      ranges.push({ start, end: middle })
      start = middle
    }
  }
  // The walk ends on the last complete subtree of the first tree; the verifier knows it already if it is that tree.
  if (start > 0) ranges.push({ start, end })
  return ranges.reverse()
}

export function inclusionProof(leafHashes: readonly Buffer[], index: number, size: number): Buffer[] {
  requireLeaves(leafHashes, size)
  return inclusionRanges(index, size).map(({ start, end }) => merkleRoot(leafHashes.slice(start, end)))
}

export function consistencyProof(leafHashes: readonly Buffer[], first: number, second: number): Buffer[] {
  requireLeaves(leafHashes, second)
  return consistencyRanges(first, second).map(({ start, end }) => merkleRoot(leafHashes.slice(start, end)))
}

// ── Verifiers: total over whatever a stranger sends; malformed input is simply not a proof ───────────────────────

export type InclusionClaim = {
  leafHash: Uint8Array
  index: number
  size: number
  proof: readonly Uint8Array[]
  root: Uint8Array
}

/** RFC 9162 section 2.1.3.2. */
export function verifyInclusion({ leafHash, index, size, proof, root }: InclusionClaim): boolean {
  if (!Number.isSafeInteger(index) || !Number.isSafeInteger(size) || index < 0 || index >= size) return false
  if (![leafHash, root, ...proof].every(isHash)) return false
  let fn = index
  let sn = size - 1
  let computed: Uint8Array = leafHash
  for (const sibling of proof) {
    if (sn === 0) return false
    if (fn % 2 === 1 || fn === sn) {
      computed = hashNode(sibling, computed)
      while (fn % 2 === 0 && fn !== 0) {
        fn = Math.floor(fn / 2)
        sn = Math.floor(sn / 2)
      }
    } else {
      computed = hashNode(computed, sibling)
    }
    fn = Math.floor(fn / 2)
    sn = Math.floor(sn / 2)
  }
  return sn === 0 && equal(computed, root)
}

export type ConsistencyClaim = {
  first: number
  second: number
  firstRoot: Uint8Array
  secondRoot: Uint8Array
  proof: readonly Uint8Array[]
}

/** RFC 9162 section 2.1.4.2. A claim about equal sizes holds when the roots are equal and the proof is empty. */
export function verifyConsistency({ first, second, firstRoot, secondRoot, proof }: ConsistencyClaim): boolean {
  if (!Number.isSafeInteger(first) || !Number.isSafeInteger(second) || first < 1 || first > second) return false
  if (![firstRoot, secondRoot, ...proof].every(isHash)) return false
  if (first === second) return proof.length === 0 && equal(firstRoot, secondRoot)

  let fn = first - 1
  let sn = second - 1
  while (fn % 2 === 1) {
    fn = Math.floor(fn / 2)
    sn = Math.floor(sn / 2)
  }
  // fn is 0 exactly when the first tree is complete: then its root is itself the first node of the path.
  const path = fn === 0 ? [firstRoot, ...proof] : proof
  const [seed, ...rest] = path
  if (seed === undefined || proof.length === 0) return false
  let fromFirst = seed
  let fromSecond = seed
  for (const sibling of rest) {
    if (sn === 0) return false
    if (fn % 2 === 1 || fn === sn) {
      fromFirst = hashNode(sibling, fromFirst)
      fromSecond = hashNode(sibling, fromSecond)
      while (fn % 2 === 0 && fn !== 0) {
        fn = Math.floor(fn / 2)
        sn = Math.floor(sn / 2)
      }
    } else {
      fromSecond = hashNode(fromSecond, sibling)
    }
    fn = Math.floor(fn / 2)
    sn = Math.floor(sn / 2)
  }
  return sn === 0 && equal(fromFirst, firstRoot) && equal(fromSecond, secondRoot)
}

// ── Small parts ──────────────────────────────────────────────────────────────────────────────────────────────────

function largestPowerOfTwoBelow(size: number): number {
  let power = 1
  while (power * 2 < size) power *= 2
  return power
}

function isHash(value: Uint8Array): boolean {
  return value.length === HASH_BYTES
}

function equal(a: Uint8Array, b: Uint8Array): boolean {
  return Buffer.compare(a, b) === 0
}

function requireSize(size: number, name: string): void {
  if (!Number.isSafeInteger(size) || size < 0) throw new RangeError(`${name} must be a whole number, 0 or more`)
}

function requireLeaves(leafHashes: readonly Buffer[], size: number): void {
  if (size > leafHashes.length) throw new RangeError(`a tree of ${size} needs as many leaf hashes`)
}
