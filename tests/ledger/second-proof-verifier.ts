/**
 * A second verifier of inclusion and consistency proofs, written from the definitions of PATH and SUBPROOF in RFC 9162
 * sections 2.1.3.1 and 2.1.4.1, read backwards: which roots would make this a proof? It shares no line with the service.
 */
import { createHash } from 'node:crypto'

const sha256 = (...parts: Buffer[]): Buffer => createHash('sha256').update(Buffer.concat(parts)).digest()
const nodeOf = (left: Buffer, right: Buffer): Buffer => sha256(Buffer.of(1), left, right)

function split(size: number): number {
  let k = 1
  while (k * 2 < size) k *= 2
  return k
}

/** The root that the path makes of this leaf; null where it is no path of that shape. */
function rootFrom(leaf: Buffer, index: number, size: number, path: Buffer[]): Buffer | null {
  if (size === 1) return path.length === 0 ? leaf : null
  const sibling = path.at(-1)
  if (sibling === undefined) return null
  const k = split(size)
  const inner = index < k ? rootFrom(leaf, index, k, path.slice(0, -1)) : rootFrom(leaf, index - k, size - k, path.slice(0, -1)) // prettier-ignore
  if (inner === null) return null
  return index < k ? nodeOf(inner, sibling) : nodeOf(sibling, inner)
}

/** The roots of both trees that the proof makes; the whole first tree is taken as given. */
function rootsFrom(first: number, second: number, proof: Buffer[], given: Buffer | null): [Buffer, Buffer] | null {
  if (first === second) {
    const [root, ...more] = given === null ? proof : [given, ...proof]
    return root === undefined || more.length > 0 ? null : [root, root]
  }
  const sibling = proof.at(-1)
  if (sibling === undefined) return null
  const k = split(second)
  const rest = proof.slice(0, -1)
  const inner = first <= k ? rootsFrom(first, k, rest, given) : rootsFrom(first - k, second - k, rest, null)
  if (inner === null) return null
  const [before, after] = inner
  return first <= k ? [before, nodeOf(after, sibling)] : [nodeOf(sibling, before), nodeOf(sibling, after)]
}

const fromHex = (hashes: readonly string[]): Buffer[] => hashes.map((hash) => Buffer.from(hash, 'hex'))

/** As GET /v1/audit/inclusion-proof answers, against a root that was had from a signed head. */
export function includes(
  answer: { entry: string; sequence: number; size: number; path: string[] },
  rootHash: string,
): boolean {
  const leaf = sha256(Buffer.of(0), Buffer.from(answer.entry, 'utf8'))
  return rootFrom(leaf, answer.sequence - 1, answer.size, fromHex(answer.path))?.toString('hex') === rootHash
}

/** As GET /v1/audit/consistency-proof answers, against two such roots. */
export function continues(
  answer: { firstSize: number; secondSize: number; path: string[] },
  firstRoot: string,
  secondRoot: string,
): boolean {
  const given = Buffer.from(firstRoot, 'hex')
  const roots = rootsFrom(answer.firstSize, answer.secondSize, fromHex(answer.path), given)
  return roots !== null && roots[0].toString('hex') === firstRoot && roots[1].toString('hex') === secondRoot
}
