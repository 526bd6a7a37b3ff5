import { createHash } from 'node:crypto'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  appendLeaves,
  consistencyProof,
  EMPTY_FRONTIER,
  EMPTY_ROOT,
  frontierRoot,
  hashLeaf,
  hashNode,
  inclusionProof,
  merkleRoot,
  verifyConsistency,
  verifyInclusion,
} from '../../src/ledger/merkle.ts'

// ── The definitions of RFC 9162 section 2.1, written down as they stand there, on their own ──────────────────────

const sha256 = (...parts: Uint8Array[]): Buffer => createHash('sha256').update(Buffer.concat(parts)).digest()
const k = (n: number): number => 2 ** Math.ceil(Math.log2(n) - 1)

function MTH(d: Buffer[]): Buffer {
  if (d.length === 0) return sha256()
  if (d.length === 1) return sha256(Buffer.of(0x00), d[0]!)
  return sha256(Buffer.of(0x01), MTH(d.slice(0, k(d.length))), MTH(d.slice(k(d.length))))
}

function PATH(m: number, d: Buffer[]): Buffer[] {
  if (d.length === 1) return []
  const cut = k(d.length)
  return m < cut
    ? [...PATH(m, d.slice(0, cut)), MTH(d.slice(cut))]
    : [...PATH(m - cut, d.slice(cut)), MTH(d.slice(0, cut))]
}

function SUBPROOF(m: number, d: Buffer[], complete: boolean): Buffer[] {
  if (m === d.length) return complete ? [] : [MTH(d)]
  const cut = k(d.length)
  return m <= cut
    ? [...SUBPROOF(m, d.slice(0, cut), complete), MTH(d.slice(cut))]
    : [...SUBPROOF(m - cut, d.slice(cut), false), MTH(d.slice(0, cut))]
}

const REFERENCE_LEAVES = [
  '',
  '00',
  '10',
  '2021',
  '3031',
  '40414243',
  '5051525354555657',
  '606162636465666768696a6b6c6d6e6f',
].map((hex) => Buffer.from(hex, 'hex'))

/** The roots that the Certificate Transparency reference code publishes for its test leaves (RFC 6962). */
const REFERENCE_ROOTS = [
  'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855',
  '6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d',
  'fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125',
  'aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77',
  'd37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7',
  '4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4',
  '76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef',
  'ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c',
  '5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328',
]

const H = {
  leaf1: '96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7',
  leaf4: 'bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b',
  leaves2To3: '5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e',
  leaves4To5: '0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a',
  leaves6To7: 'ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0',
  leaves4To7: '6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4',
} as const

/** Paths and proofs that the same code publishes for them (merkle_tree_test.cc of the Certificate Transparency log server). */
const REFERENCE_PATHS: { index: number; size: number; path: string[] }[] = [
  { index: 0, size: 1, path: [] },
  { index: 0, size: 8, path: [H.leaf1, H.leaves2To3, H.leaves4To7] },
  { index: 5, size: 8, path: [H.leaf4, H.leaves6To7, REFERENCE_ROOTS[4]!] },
  { index: 2, size: 3, path: [REFERENCE_ROOTS[2]!] },
  { index: 1, size: 5, path: [REFERENCE_ROOTS[1]!, H.leaves2To3, H.leaf4] },
]
const REFERENCE_PROOFS: { first: number; second: number; proof: string[] }[] = [
  { first: 1, second: 1, proof: [] },
  { first: 1, second: 8, proof: [H.leaf1, H.leaves2To3, H.leaves4To7] },
  { first: 6, second: 8, proof: [H.leaves4To5, H.leaves6To7, REFERENCE_ROOTS[4]!] },
  { first: 2, second: 5, proof: [H.leaves2To3, H.leaf4] },
]

const leavesOf = (n: number): Buffer[] => Array.from({ length: n }, (_, i) => Buffer.from(`leaf ${i}`))
const hex = (hashes: readonly Uint8Array[]): string[] => hashes.map((hash) => Buffer.from(hash).toString('hex'))

describe('Merkle roots', () => {
  it.each(REFERENCE_ROOTS.map((root, size) => ({ size, root })))('match the published root of $size leaves', (row) => {
    const leaves = REFERENCE_LEAVES.slice(0, row.size)
    expect(merkleRoot(leaves.map(hashLeaf)).toString('hex')).toBe(row.root)
    expect(MTH(leaves).toString('hex')).toBe(row.root)
  })

  it('hash leaves and nodes apart, so that a node cannot be passed off as a leaf', () => {
    const [a, b] = [hashLeaf(Buffer.from('a')), hashLeaf(Buffer.from('b'))]
    expect(hashNode(a, b)).not.toEqual(hashLeaf(Buffer.concat([a, b])))
  })

  it('equal the recursive definition for every size to 130', () => {
    for (let n = 0; n <= 130; n++) expect(merkleRoot(leavesOf(n).map(hashLeaf))).toEqual(MTH(leavesOf(n)))
  })

  it('come out the same however the leaves are split over appends', () => {
    fc.assert(
      fc.property(fc.array(fc.nat(17), { maxLength: 20 }), (batches) => {
        let frontier = EMPTY_FRONTIER
        let size = 0
        for (const batch of batches) {
          frontier = appendLeaves(
            frontier,
            leavesOf(size + batch)
              .slice(size)
              .map(hashLeaf),
          )
          size += batch
          expect(frontier.size).toBe(size)
          expect(frontierRoot(frontier)).toEqual(MTH(leavesOf(size)))
        }
      }),
      { seed: 20261125, numRuns: 60 },
    )
  })

  it('need no more than the few hashes of the frontier to go on', () => {
    const frontier = appendLeaves(EMPTY_FRONTIER, leavesOf(1023).map(hashLeaf))
    expect(frontier.hashes).toHaveLength(10)
    expect(appendLeaves(frontier, [hashLeaf(Buffer.from('last'))]).hashes).toHaveLength(1)
  })

  it('leave the frontier they were appended to as it was', () => {
    const before = appendLeaves(EMPTY_FRONTIER, leavesOf(5).map(hashLeaf))
    const root = frontierRoot(before)
    appendLeaves(before, leavesOf(9).map(hashLeaf))
    expect(frontierRoot(before)).toEqual(root)
  })

  it('are refused for a frontier whose hashes do not fit its size', () => {
    expect(() => frontierRoot({ size: 3, hashes: [EMPTY_ROOT] })).toThrow(RangeError)
    expect(() => appendLeaves({ size: 1, hashes: [Buffer.alloc(31)] }, [])).toThrow(RangeError)
    expect(() => appendLeaves({ size: 1.5, hashes: [EMPTY_ROOT] }, [])).toThrow(RangeError)
  })
})

describe('inclusion proofs', () => {
  it('are those of the recursive definition, and verify, for every leaf of every size to 33', () => {
    for (let n = 1; n <= 33; n++) {
      const leaves = leavesOf(n)
      const hashes = leaves.map(hashLeaf)
      for (let index = 0; index < n; index++) {
        const proof = inclusionProof(hashes, index, n)
        expect(hex(proof)).toEqual(hex(PATH(index, leaves)))
        expect(verifyInclusion({ leafHash: hashes[index]!, index, size: n, proof, root: MTH(leaves) })).toBe(true)
      }
    }
  })

  it.each(REFERENCE_PATHS)('match the published path of leaf $index in the reference tree of $size', (row) => {
    const hashes = REFERENCE_LEAVES.slice(0, row.size).map(hashLeaf)
    expect(hex(inclusionProof(hashes, row.index, row.size))).toEqual(row.path)
  })

  it('verify for no other leaf, index, size, root, or path', () => {
    fc.assert(
      fc.property(fc.integer({ min: 2, max: 70 }), fc.nat(), fc.nat(), fc.nat(), (size, a, b, c) => {
        const leaves = leavesOf(size)
        const hashes = leaves.map(hashLeaf)
        const index = a % size
        const proof = inclusionProof(hashes, index, size)
        const claim = { leafHash: hashes[index]!, index, size, proof, root: MTH(leaves) }
        const other = (index + 1 + (b % (size - 1))) % size
        const flipped = proof.map((hash, i) => (i === c % proof.length ? sha256(hash) : hash))

        expect(verifyInclusion({ ...claim, leafHash: hashes[other]! })).toBe(false)
        expect(verifyInclusion({ ...claim, index: other })).toBe(false)
        expect(verifyInclusion({ ...claim, root: MTH(leavesOf(size + 1)) })).toBe(false)
        expect(verifyInclusion({ ...claim, proof: flipped })).toBe(false)
        expect(verifyInclusion({ ...claim, proof: proof.slice(1) })).toBe(false)
        expect(verifyInclusion({ ...claim, proof: proof.slice(0, -1) })).toBe(false)
        expect(verifyInclusion({ ...claim, proof: [...proof, EMPTY_ROOT] })).toBe(false)
        expect(verifyInclusion({ ...claim, proof: [...proof].reverse() })).toBe(
          hex(proof).join() === hex([...proof].reverse()).join(),
        )
      }),
      { seed: 20261125, numRuns: 100 },
    )
  })

  it('are refused, not thrown over, when a stranger sends nonsense', () => {
    const leafHash = hashLeaf(Buffer.from('x'))
    const claim = { leafHash, index: 0, size: 1, proof: [], root: leafHash }
    expect(verifyInclusion(claim)).toBe(true)
    for (const bad of [
      { index: -1 },
      { index: 1 },
      { index: 0.5 },
      { size: 0 },
      { size: Number.NaN },
      { size: Infinity },
      { leafHash: Buffer.alloc(0) },
      { root: Buffer.alloc(31) },
      { proof: [Buffer.alloc(1)] },
      { proof: [EMPTY_ROOT] },
    ]) {
      expect(verifyInclusion({ ...claim, ...bad })).toBe(false)
    }
  })

  it('of a leaf that is not there are a mistake of the caller', () => {
    const hashes = leavesOf(3).map(hashLeaf)
    expect(() => inclusionProof(hashes, 3, 3)).toThrow(RangeError)
    expect(() => inclusionProof(hashes, 0, 4)).toThrow(RangeError)
    expect(() => inclusionProof(hashes, 0, 0)).toThrow(RangeError)
  })
})

describe('consistency proofs', () => {
  it('are those of the recursive definition, and verify, for every pair of sizes to 33', () => {
    const roots = Array.from({ length: 34 }, (_, n) => MTH(leavesOf(n)))
    const hashes = leavesOf(33).map(hashLeaf)
    for (let second = 1; second <= 33; second++) {
      for (let first = 1; first <= second; first++) {
        const proof = consistencyProof(hashes, first, second)
        expect(hex(proof)).toEqual(hex(SUBPROOF(first, leavesOf(second), true)))
        const claim = { first, second, firstRoot: roots[first]!, secondRoot: roots[second]!, proof }
        expect(verifyConsistency(claim)).toBe(true)
      }
    }
  })

  it.each(REFERENCE_PROOFS)('match the published proof from $first to $second leaves of the reference tree', (row) => {
    const hashes = REFERENCE_LEAVES.map(hashLeaf)
    expect(hex(consistencyProof(hashes, row.first, row.second))).toEqual(row.proof)
  })

  it('work on the worked example of RFC 9162 section 2.1.5: sizes 3, 4 and 6 in a tree of 7', () => {
    const d = leavesOf(7)
    const [a, b, c, e] = [0, 1, 2, 3].map((i) => MTH([d[i]!])) as [Buffer, Buffer, Buffer, Buffer]
    const g = hashNode(a, b)
    const h = hashNode(c, e)
    const i = hashNode(MTH([d[4]!]), MTH([d[5]!]))
    const j = MTH([d[6]!])
    const K = hashNode(g, h)
    const l = hashNode(i, j)
    const hashes = d.map(hashLeaf)
    expect(hex(consistencyProof(hashes, 3, 7))).toEqual(hex([c, e, g, l]))
    expect(hex(consistencyProof(hashes, 4, 7))).toEqual(hex([l]))
    expect(hex(consistencyProof(hashes, 6, 7))).toEqual(hex([i, j, K]))
  })

  it('from size 0 do not exist and are never accepted', () => {
    const hashes = leavesOf(5).map(hashLeaf)
    expect(() => consistencyProof(hashes, 0, 5)).toThrow(RangeError)
    const secondRoot = MTH(leavesOf(5))
    for (const proof of [[], [secondRoot], [EMPTY_ROOT]]) {
      expect(verifyConsistency({ first: 0, second: 5, firstRoot: EMPTY_ROOT, secondRoot, proof })).toBe(false)
    }
    expect(verifyConsistency({ first: 0, second: 0, firstRoot: EMPTY_ROOT, secondRoot: EMPTY_ROOT, proof: [] })).toBe(
      false,
    )
  })

  it('do not verify for a history that was rewritten, whatever the path', () => {
    fc.assert(
      fc.property(fc.integer({ min: 2, max: 60 }), fc.nat(), fc.nat(), (second, a, b) => {
        const first = 1 + (a % (second - 1))
        const honest = leavesOf(second)
        const rewritten = honest.map((leaf, i) => (i === b % first ? Buffer.from('rewritten') : leaf))
        const firstRoot = MTH(honest.slice(0, first))
        const secondRoot = MTH(rewritten)
        const theirs = consistencyProof(rewritten.map(hashLeaf), first, second)
        const ours = consistencyProof(honest.map(hashLeaf), first, second)
        for (const proof of [theirs, ours, [], [...ours, EMPTY_ROOT], ours.slice(1)]) {
          expect(verifyConsistency({ first, second, firstRoot, secondRoot, proof })).toBe(false)
        }
      }),
      { seed: 20261125, numRuns: 100 },
    )
  })

  it('do not verify when cut, extended or for other sizes', () => {
    fc.assert(
      fc.property(fc.integer({ min: 2, max: 60 }), fc.nat(), (second, a) => {
        const first = 1 + (a % (second - 1))
        const hashes = leavesOf(second).map(hashLeaf)
        const proof = consistencyProof(hashes, first, second)
        const claim = { first, second, firstRoot: MTH(leavesOf(first)), secondRoot: MTH(leavesOf(second)), proof }
        expect(verifyConsistency({ ...claim, proof: proof.slice(0, -1) })).toBe(false)
        expect(verifyConsistency({ ...claim, proof: proof.slice(1) })).toBe(false)
        expect(verifyConsistency({ ...claim, proof: [...proof, EMPTY_ROOT] })).toBe(false)
        expect(verifyConsistency({ ...claim, first: second, second: first })).toBe(false)
        expect(verifyConsistency({ ...claim, second: first })).toBe(false)
      }),
      { seed: 20261125, numRuns: 100 },
    )
  })

  it('between equal sizes are empty and need equal roots', () => {
    const root = MTH(leavesOf(4))
    const claim = { first: 4, second: 4, firstRoot: root, secondRoot: root, proof: [] as Buffer[] }
    expect(verifyConsistency(claim)).toBe(true)
    expect(verifyConsistency({ ...claim, secondRoot: EMPTY_ROOT })).toBe(false)
    expect(verifyConsistency({ ...claim, proof: [root] })).toBe(false)
  })
})
