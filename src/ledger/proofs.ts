/**
 * Inclusion and consistency proofs of a clinic's sealed log. A proof needs the roots of subtrees that together cover
 * all leaves, so making one reads every leaf hash once, page by page; checking one takes a few dozen hashes.
 */
import type { LeafRange } from './merkle.ts'
import { appendLeaves, consistencyRanges, EMPTY_FRONTIER, frontierRoot, inclusionRanges } from './merkle.ts'
import type { ClinicReader } from './ledger-rows.ts'
import { leafHashes } from './ledger-rows.ts'

const PAGE = 10_000

export type InclusionProof = {
  readonly epoch: number
  readonly sequence: number
  /** 0-based, as in RFC 9162: sequence - 1. */
  readonly leafIndex: number
  readonly size: number
  readonly leafHash: string
  readonly path: readonly string[]
}

export type ConsistencyProof = {
  readonly epoch: number
  readonly firstSize: number
  readonly secondSize: number
  readonly path: readonly string[]
}

/** Proof that entry `sequence` is in the tree of the first `size` entries. RangeError unless 1 <= sequence <= size. */
export async function proveInclusion(
  read: ClinicReader,
  clinicId: string,
  epoch: number,
  sequence: number,
  size: number,
): Promise<InclusionProof> {
  const ranges = inclusionRanges(sequence - 1, size)
  const own = await rootOf(read, clinicId, epoch, { start: sequence - 1, end: sequence })
  const path = await pathOf(read, clinicId, epoch, ranges)
  return { epoch, sequence, leafIndex: sequence - 1, size, leafHash: own, path }
}

/** Proof that the tree of `firstSize` entries is a beginning of that of `secondSize`. RangeError for firstSize 0. */
export async function proveConsistency(
  read: ClinicReader,
  clinicId: string,
  epoch: number,
  firstSize: number,
  secondSize: number,
): Promise<ConsistencyProof> {
  const path = await pathOf(read, clinicId, epoch, consistencyRanges(firstSize, secondSize))
  return { epoch, firstSize, secondSize, path }
}

async function pathOf(read: ClinicReader, clinicId: string, epoch: number, ranges: LeafRange[]): Promise<string[]> {
  const path: string[] = []
  for (const range of ranges) path.push(await rootOf(read, clinicId, epoch, range))
  return path
}

async function rootOf(read: ClinicReader, clinicId: string, epoch: number, { start, end }: LeafRange): Promise<string> {
  let frontier = EMPTY_FRONTIER
  while (frontier.size < end - start) {
    const from = start + frontier.size + 1
    const through = Math.min(end, from + PAGE - 1)
    const hashes = await read((sql) => leafHashes(sql, clinicId, epoch, from, through))
    if (hashes.length !== through - from + 1) throw new RangeError(`epoch ${epoch} holds fewer than ${end} entries`)
    frontier = appendLeaves(frontier, hashes)
  }
  return frontierRoot(frontier).toString('hex')
}
