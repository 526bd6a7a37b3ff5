/** The tree of RFC 9162 section 2.1.1, grown leaf by leaf. Written apart from the service's own tree, on purpose. */
import { hash } from 'node:crypto'

export const sha256 = (...parts: Uint8Array[]): Buffer => hash('sha256', Buffer.concat(parts), 'buffer')

const LEAF = Buffer.from([0])
const NODE = Buffer.from([1])

export function leafHashOf(entryText: string): Buffer {
  return sha256(LEAF, Buffer.from(entryText, 'utf8'))
}

export class GrowingTree {
  size = 0
  /** Roots of complete subtrees, widest first, each with the number of leaves below it. */
  readonly #peaks: { leaves: number; hash: Buffer }[] = []

  push(leafHash: Buffer): void {
    let peak = { leaves: 1, hash: leafHash }
    while (this.#peaks.at(-1)?.leaves === peak.leaves) {
      const left = this.#peaks.pop()!
      peak = { leaves: left.leaves * 2, hash: sha256(NODE, left.hash, peak.hash) }
    }
    this.#peaks.push(peak)
    this.size += 1
  }

  rootHash(): string {
    const [last, ...before] = this.#peaks.map(({ hash }) => hash).reverse()
    if (last === undefined) return sha256().toString('hex')
    return before.reduce((right, left) => sha256(NODE, left, right), last).toString('hex')
  }
}
